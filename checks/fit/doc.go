// Package fit holds the numerics of the checks: streaming sums, least squares,
// uncertainty and the decision against a limit.
//
// It does no I/O, reads no clock, keeps no package state and knows nothing of
// wheels or channels. Numbers carry the unit that the caller put in; angles
// are radians. What cannot be computed is NaN or ok == false, never a number
// that looks final; NaN into a sum makes its results NaN, so leave out the
// samples that are not there.
//
// # The same everywhere
//
// A compiler may fuse x*y + z into one rounding, and Go does so on some
// machines and not on others. The Go specification lets an explicit conversion
// prevent it, so every product here that meets a sum is written
// float64(x*y): sums, fits and decisions have the same bits on every machine.
// Of package math, Sqrt and Remainder are exact by definition. What goes
// through Log, Exp and their kin ([T95], [StudentT], [PoissonInterval]) may differ
// in the last bit; the t-factors are rounded to nine decimals, so that this does
// not show.
//
// # Concurrency
//
// Values have no locks. Each belongs to one goroutine; functions may be called
// from any.
package fit
