// Package matrix holds the checks against the simulator: every kind of fault, at half its limit, at the
// limit, at twice and at ten times of it, on every corner of vehicles with one, two and four wheels, in
// rotating and in fixed axes, from several seeds; pairs of faults; and vehicles on which nothing is wrong.
// It counts how often the named check fails on the right subject, how often anything fails on an
// innocent one, and says which of the project's rules are broken.
//
// It never hears a bus or reads a recording, and it proves nothing of a real transducer: the simulator
// shares its model of the wheel with the checks. The recordings of an outside model do that.
//
// Sizes are in the unit of the simulator's kind of fault. The same Config gives the same table, to the
// byte, on any number of processors. Functions may be called from several goroutines.
package matrix
