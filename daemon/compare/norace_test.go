//go:build !race

package compare

const raceDetector = false
