//go:build race

package metrics

// raceDetector tells whether the tests run under the race detector.
const raceDetector = true
