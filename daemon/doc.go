// Package daemon brings a bus and the checks together: it reads one
// [bus.Source], decodes with the plan of the setup, feeds a judge and hands out
// the [Result]. Live and replay are the same code with another source in front.
//
// It never sends and prints nothing; the folders below it render, serve and
// store. Time is the event time of the frames; only [Paced] and [Judge.KeepCost] look at a clock.
//
// Values are in SI, times in ns since 1970-01-01 UTC. What a type says of
// goroutines stands on the type.
package daemon
