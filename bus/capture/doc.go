// Package capture opens a recording of a bus, whatever it is written in, as a
// [bus.Source]: candump -L text, pcapng or pcap, plain or packed with gzip or
// zstd, from a file or from standard input. The first bytes decide, not the
// name.
//
// A recording that was cut off counts as far as it goes: a packed stream that
// ends early, or in the NUL bytes that a power loss leaves, gives what could be
// unpacked and a [bus.Warning].
//
// What a source says of itself (times, marks, losses, warnings) is the affair
// of packages candump and pcapng. The sources returned here say beside that how
// far they have read ([Progress]). Memory does not grow with the recording; a
// zstd stream may ask for a window of up to 128 MiB.
//
// The package writes nothing and follows no file that grows. A source is used
// by one goroutine; Close and Fraction may be called from any.
package capture
