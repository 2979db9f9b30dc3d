//go:build !race && linux

package socketcan

const raceEnabled = false
