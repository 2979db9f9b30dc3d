// Package serialport hears sensors on a serial line: [Open] gives a live
// [bus.Source] over a port, [NewDecoder] gives the same frames again from the
// bytes of a recording.
//
// What tells packets apart is a [Format]; a [Framer] cuts bytes by it into
// [bus.Frame], without I/O and without a clock. [ParseLayout] reads the file
// that describes the packets and makes DBC messages of it, so that serial
// frames are decoded by the same plan as those of a CAN bus.
//
// # The frame of a packet
//
// Data holds the payload: what follows the sync bytes and comes before the
// checksum; of COBS and SLIP what remains when the stuffing is undone. All
// offsets count from its first byte. ID is taken from the payload, or fixed;
// above 0x7FF the frame has the flag [bus.Extended]. Payloads beyond
// [bus.MaxData] bytes are left out, counted and noted. A line of text becomes a frame
// with up to 8 columns as little-endian float64, one after the other; a column
// that is no number is NaN. An slcan line is the CAN frame that it spells.
//
// # It never sends
//
// Nothing here writes to a port; what is kept of an opened port has no way to.
// Opening is not silent all the same, and this is all that a device can notice:
// the system raises DTR and RTS, drops them when the port is closed, and until
// the port is in raw mode, some microseconds after it was opened, the system's
// terminal driver may echo a byte that arrives. Ports are never enumerated,
// for that opens each of them. An slcan adapter must have its channel opened by
// somebody else, best in its listen-only mode: that needs a command.
//
// # Time
//
// Frames are stamped with the wall clock when the read that completed them
// returned, in ns since 1970. Adapters deliver in bursts: where a message has a
// known period its sample times can be reconstructed ([Retime], [Reconstruct]),
// and Stats.Retimed says how often that was done.
//
// # Concurrency
//
// No goroutine is started. A Reader, Decoder, Framer or Reconstruct belongs to one
// goroutine; only Close may be called from another. Figures are SI unless named
// otherwise; baud rates are in bit/s.
package serialport
