//go:build race

package matrix

// raceDetector makes the runs ten times as slow.
const raceDetector = true
