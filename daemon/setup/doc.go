// Package setup reads the setup file: which buses there are, which signal is
// which quantity of which corner, and what the vehicle must show.
//
// [Load] turns a file in YAML, TOML or JSON into a [Setup], whose parts are
// what the decoder (bindings) and the checks (checks.Setup) take as they are.
// A file is read once into a tree that knows the place of each word. The tree
// is held against the fixed vocabulary, viper lays it over the defaults and
// decodes it exactly, and what the words mean is checked against the DBC files.
// All faults come back at once as [Faults], each with file, line and column,
// what was expected and what to write. [Write] makes a first setup from the
// names in DBC files.
//
// Nothing is guessed: an unknown word, an unknown unit or a signal that two
// messages could mean is a fault. The environment is not read, nothing global
// is kept, and the same bytes give the same Setup.
//
// Beside what the example of a setup shows, the words are:
//
//   - a channel is "message.signal", or "source:message.signal" where several
//     sources have a message of that name; "" takes a default away
//   - status: {signal: …, good: [0, "well"]}: raw values or texts of the value
//     table that mean well; default [0]
//   - adapter: SERIAL of a CAN source, or its place on the bus (usb 1-2.3, pci
//     0000:00:03.0), with /1 behind it for a second channel: the interface is
//     found by it, whatever its name is; can: is then only what captures call it,
//     and may be left out for the name of the source
//   - stamps: hardware of a CAN source: frames carry the time stamps of the
//     adapter where it gives any, laid onto the clock of the computer; software,
//     the default, is the kernel's
//   - match_pgn: true of a source: identifiers are those of J1939
//   - periods: [{message: NAME, ms: 5}] of a source: the cycle time where the
//     DBC file states none or another
//   - record: {dir: FOLDER, keep: 20 GB, part: 100 MB, zstd: true}: record while
//     listening; part is a size or a time (15 min); flags of run override it
//   - baseline_third_m of a camber bar with a third height
//
// Values of a Setup are SI; keys of the file carry their unit in their name.
// A Setup is not changed once it is made and may be shared between goroutines.
package setup
