// Package dbc reads DBC files and turns the bytes of frames into values.
//
// [Parse] reads one file into plain data ([File]). [Compile] takes the few
// signals that somebody wants and makes a flat [Plan]: per message the shifts,
// masks and factors of its fields. Decoding writes into the caller's slice and
// allocates nothing. A value is never clamped to the range that the file states,
// and a frame that is too short for a signal yields no value for it.
//
// Values are physical values in SI where [Unit] knows the unit, scaled as the
// binding asks. A Plan is read-only after Compile and safe for concurrent use.
package dbc
