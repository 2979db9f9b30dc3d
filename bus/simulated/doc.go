// Package simulated is a vehicle with rotating wheel force transducers, as a
// [bus.Source]: a [Vehicle] stands, is lifted, has its wheels turned by hand one
// after the other, is let down and driven, and sends what its amplifier would
// send. It is the outside world for demonstrations and tests. Its mathematics
// comes from the physics alone and shares nothing with the checks.
//
// A [Config] describes the vehicle and can write what belongs to it: the DBC
// text that its frames are encoded by ([Config.DBC]) and a setup file
// ([Config.SetupYAML]). Faults ([Kinds]) spoil one thing each: a fault on one
// corner leaves every frame of the other corners as it was, byte for byte.
// What is really the case is told by [Vehicle.Truth].
//
// Units are SI in the Go types; values of faults are in the unit that a person
// would use, as [Kind] says. Axes are those of ISO 8855 with forces on the
// vehicle side; the rotation angle is positive when rolling forward.
//
// Time is event time: nothing here reads a clock, starts a goroutine or touches
// a file. The same configuration gives the same frames; only between processors
// with and without fused multiply-add may a value once in a great many differ by
// one raw step. A Vehicle belongs to one goroutine.
package simulated
