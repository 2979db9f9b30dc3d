//go:build race

package checks

// raceDetector tells whether the tests run under the race detector, which makes them ten times slower.
const raceDetector = true
