//go:build !race

package checks

// raceDetector tells whether the tests run under the race detector.
const raceDetector = false
