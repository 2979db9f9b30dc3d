// Package record writes what was heard to disk while it is heard, and reads it
// back as one stream.
//
// A [Recorder] takes the batches of a [bus.Source] and writes parts: files in
// pcapng as package pcapng describes them, plain or packed with zstd, that are
// complete in themselves and readable by other programs while they are written.
// Frames of CAN interfaces stand in them as they were heard; of a serial port
// the bytes stand there, and what was made of them does not: its frames, and the
// notes that [serialport.Derived] names. Whoever cuts the bytes again, with a
// [serialport.Decoder], says it again. Ticks are recorded: without them nobody
// could tell how long nothing was heard.
//
// # What is promised
//
// Write never waits for the disk. Between it and the disk is a queue of bounded
// size; what does not fit is lost at [bus.Recorder], counted, and stands in the
// recording at its place as a [bus.Loss]. Marks do not get lost with it.
//
// What was heard more than [Config].Sync plus the time of one write ago is in
// the file and survives the end of the program; what was heard before the last
// sync survives the end of power. Frames count as written when they were synced.
// Only whole pcapng blocks are handed to the system. Where a write was cut
// short, the part is cut back to its last whole block and never written again.
//
// No error of the disk ends anything. A part that fails is closed as well as can
// be; what it may not hold goes into a new one, tried again after a pause; what
// it may or may not hold, because it could not be cut back either, is told as
// lost and never written twice. Before the disk is full recording stops, and
// begins again in a new part when there is room. A part that a crash left behind
// is never opened for writing, never appended to.
//
// What [Recorder.Tell] is told of failures stands in the recording, and changes nothing of what a replay says. Where
// a part goes that holds what was heard within half a minute of one, that is cut out first into a small file of its
// own, plumbline-20260131T101112Z-000007-event-01.pcapng. Cut-outs may take a quarter of [Config].Keep, each a
// sixteenth; the oldest go first. While one is cut out writing waits, some tenths of a second for a part of 64 MiB.
// [Sessions] lists them only where their part is gone, so that no frame counts twice.
//
// Where a person ends a test, [Recorder.Cut] divides the recording between two
// batches: the parts before it are then whole, closed and never touched again.
//
// Of other files none is touched. The oldest parts of the same name are removed
// where [Config].Keep bounds their size, but for those that do not begin like a
// recording: those are left alone and told. A part to which another name leads, as a
// signed test has one, goes in its turn as well; since that frees nothing, it is not counted.
//
// Times in the parts are event times, ns since 1970-01-01 UTC; how often is
// written, synced and begun anew goes by the clock of the machine. Nothing is
// allocated per frame. What a type says of goroutines stands on the type.
package record
