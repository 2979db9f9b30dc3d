// Package candump reads and writes the text logs of candump -L, from can-utils.
//
// One frame is one line:
//
//	(1436509052.249713) can0 201#1027F0D800007FFF
//	(1436509052.249713) can0 18FF1021#0011.2233    29-bit identifier, dots allowed
//	(1436509052.249713) can0 201#R4                remote request for 4 bytes
//	(1436509052.249713) can0 201##1001122 T        CAN FD, flags nibble 1; sent by the recorder
//	(1436509052.249713) can0 20000080#0000000000000000   error frame: class 0x80
//
// A [Reader] is a [bus.Source] over such text. Its memory does not grow with
// the file. What it cannot read becomes a note of kind [bus.Warning] that names
// the line, and the rest counts: a line that is broken, a line that never ends,
// NUL bytes as a power loss leaves them, a last line that was cut. A last line
// without its newline is dropped even where it could be read, because data cut
// between two bytes looks like a shorter frame. After [bus.MaxWarnings] warnings
// the rest is only counted, and the number told at the end. "# mark: TEXT"
// becomes a [bus.Mark], a DROPCOUNT line a [bus.Loss]; any other line that does
// not begin with "(" is a comment.
//
// A [Writer] writes the same text. The raw length code of a classic frame (the
// suffix "_9" to "_F") and bits of the FD nibble beside BRS and ESI are read
// and not kept: [bus.Frame] has no place for them. CAN XL is not read.
//
// The package never opens a file or a bus, never sorts frames and never
// changes a time stamp. Times are ns since 1970-01-01 UTC, read and written
// exactly. A Reader and a Writer are used by one goroutine each; only
// [Reader.Close] may be called from another.
package candump
