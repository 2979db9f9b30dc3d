//go:build !race

package matrix

const raceDetector = false
