//go:build !linux

package daemon

// monotonic is where the monotonic clock begins, ns: there is no other clock to compare it with.
func monotonic() int64 { return 1 }
