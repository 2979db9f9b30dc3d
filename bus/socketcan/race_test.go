//go:build race && linux

package socketcan

const raceEnabled = true
