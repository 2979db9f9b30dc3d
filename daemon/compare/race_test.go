//go:build race

package compare

// raceDetector makes a simulated test ten times as slow.
const raceDetector = true
