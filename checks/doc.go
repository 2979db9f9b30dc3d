// Package checks judges samples: it knows what wheel force transducers and the
// sensors beside them must show, and says in plain sentences where they do not.
//
// Samples go in ([Judge.Message]), evidence is gathered once in a few
// accumulators (timing, turn, rest, …), and each check is a function that only
// reads evidence, setup and limits and returns findings. Nothing here does I/O
// or reads a clock: time is event time, in ns, as stamped on the samples.
//
// Units are SI: N, N·m, rad, m, m/s, s, °C, V. Axes are those of ISO 8855
// (X forward, Y left, Z up), forces act on the vehicle side. The rotation angle
// counts about +Y, positive when rolling forward. In complex form the wheel
// plane is f = Fx + i·Fz, and its rotating components are f·exp(iθ).
//
// A Judge belongs to one goroutine.
package checks
