package setup

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbline/bus/dbc"
	"plumbline/bus/serialport"
	"plumbline/checks"
)

// Setup is a setup file that was found to be right.
type Setup struct {
	File    string // as given to Load
	SHA256  string // of the bytes of the file, hexadecimal
	Vehicle string

	DBC      []DBCFile     // each file once, in the order in which sources name them
	Checks   checks.Setup  // what the checks need
	Bindings []dbc.Binding // binding i delivers channel i of Checks; messages first appear in the order of Checks.Messages
	Sources  []Source      // in the order of Checks.Sources
	Confirm  []Confirmation
	Record   *Record  // nil: the setup does not say that anything is recorded
	Results  string   // folder of the signed tests, relative to where the program runs; empty: none is named
	Text     []byte   // the setup file as it was read
	Files    []File   // DBC and layout files as they were read, each once
	Warnings []string // "file:line:column: …", what is weaker than it could be
}

// File is a file that the setup names, as it was read. Nobody changes Text.
type File struct {
	Path string // as the setup names it
	Text []byte
}

// DBCFile is a DBC file that was read.
type DBCFile struct {
	Path   string // as the setup names it
	SHA256 string // hexadecimal
}

// SourceKind is the kind of a bus.
type SourceKind uint8

// The kinds of bus.
const (
	CAN SourceKind = iota
	Serial
)

// String returns the word that setup files use.
func (k SourceKind) String() string {
	switch k {
	case CAN:
		return "can"
	case Serial:
		return "serial"
	}
	return "unknown"
}

// Source is one bus to listen to.
type Source struct {
	Name      string
	Kind      SourceKind
	Interface string // CAN interface, or path of the serial device; of a CAN source found by its adapter alone, what captures call it
	Adapter   string // CAN: serial number or path of the adapter that it is heard with, whatever the interface is called; "": not known
	Match     string // name of the interface in captures; default: Interface of a CAN source, Name of a serial one
	Hardware  bool   // CAN: frames carry the time stamps of the adapter, where it gives any, laid onto the computer's clock
	PGN       bool   // identifiers are those of J1939: match by parameter group, any source address and priority

	Baud     int       // serial, bit/s
	Framing  string    // serial: a word of serialport.Framings
	Checksum *Checksum // serial; nil: packets carry none
	Layout   string    // serial: path of the layout file, as the setup names it

	Format serialport.Format // serial: framing, checksum and layout in one
}

// Checksum describes a CRC with the parameters of the CRC catalogue.
type Checksum struct {
	Width                 int // bits, 8 to 64
	Poly, Init, XorOut    uint64
	ReflectIn, ReflectOut bool
}

// Confirmation is something that no signal shows and a person confirms.
type Confirmation struct {
	ID, Text string
	HasValue bool // a value is read off and noted
	Unit     string
	Min, Max float64 // range in which the value is right, both ends included
}

// maxDBCBytes is the largest DBC file that is read; the largest ones met have 10 MB.
const maxDBCBytes = 64 << 20

// Load reads a setup file and the DBC files that it names. The name's ending
// tells the format: .yaml, .yml, .toml or .json. The error is Faults where the
// file can be read but not used, else that of reading it.
func Load(path string) (*Setup, error) {
	text, err := readAtMost(path, maxBytes)
	if err != nil {
		if info, gone := os.Stat(path); gone == nil && info.IsDir() {
			return nil, fmt.Errorf("setup: %s is a folder: name the setup file in it, as in %s", path, filepath.Join(path, "setup.yaml"))
		}
		return nil, fmt.Errorf("setup: %w", Located(path, err))
	}
	return parse(path, text, func(name string) ([]byte, error) { return readAtMost(name, maxDBCBytes) }, Near)
}

// readAtMost reads a file that must not be larger than a number of bytes.
func readAtMost(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	if int64(len(text)) > most {
		return nil, fmt.Errorf("%s is larger than %d bytes: is it the right file?", path, most)
	}
	return text, nil
}

// Parse reads the text of a setup file. file is its name: the ending tells the
// format, relative paths begin at its folder, faults begin with it. readFile
// gives the bytes of a DBC file; Parse itself touches no file system. The
// error is Faults.
func Parse(file string, text []byte, readFile func(string) ([]byte, error)) (*Setup, error) {
	return parse(file, text, readFile, func(string) string { return "" })
}

// parse is Parse; near says which file may be meant by one that is not there.
func parse(file string, text []byte, readFile func(string) ([]byte, error), near func(string) string) (*Setup, error) {
	l := loader{
		dir: filepath.Dir(file), read: readFile, near: near,
		faults: notes{file: file}, warnings: notes{file: file},
		out: &Setup{File: file, SHA256: hash(text), Text: text},
	}
	tree, err := parseTree(file, text)
	if err != nil {
		at := place{1, 1}
		if s, ok := errors.AsType[*syntaxError](err); ok {
			at = s.at
		}
		l.faults.add(at, "%s", err)
		return nil, l.faults.sorted()
	}
	if checkWords(tree, &l.faults) {
		l.tree = tree
		if l.words, err = decode(tree); err != nil {
			l.faults.add(tree.place, "%s", err)
		} else {
			l.all()
		}
	}
	if faults := l.faults.sorted(); len(faults) > 0 {
		return nil, faults
	}
	for _, w := range l.warnings.sorted() {
		l.out.Warnings = append(l.out.Warnings, w.String())
	}
	l.out.Warnings = append(l.out.Warnings, l.dbcWarnings...)
	return l.out, nil
}

// parseTree reads the text in the format that the file's name tells.
func parseTree(file string, text []byte) (*node, error) {
	text = bytes.TrimPrefix(text, []byte("\xEF\xBB\xBF"))
	switch {
	case len(text) > maxBytes:
		return nil, fmt.Errorf("the file is larger than %d bytes: a setup is far smaller", maxBytes)
	case !utf8.Valid(text):
		return nil, &syntaxError{placeOf(text, firstInvalid(text)), "this byte is not UTF-8: save the file as UTF-8"}
	}
	switch ending := strings.ToLower(filepath.Ext(file)); ending {
	case ".yaml", ".yml":
		return parseYAML(text)
	case ".toml":
		return parseTOML(text)
	case ".json":
		return parseJSON(text)
	default:
		return nil, fmt.Errorf("the ending %q tells no format: name the file .yaml, .toml or .json", ending)
	}
}

// firstInvalid returns the offset of the first byte that is not UTF-8.
func firstInvalid(text []byte) int {
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return len(text)
}

// loader makes a Setup from a checked file, part by part.
type loader struct {
	dir   string
	read  func(string) ([]byte, error)
	near  func(string) string // what to say of a file that is not there
	tree  *node
	words *root

	faults, warnings notes
	dbcWarnings      []string

	subjects map[string]subject // by name
	known    []described        // by source
	files    map[string]*dbc.File
	channels map[signalKey]user // who uses a signal
	messages map[messageKey]int // index into Checks.Messages
	out      *Setup
}

// all reads the parts in the order in which they need each other.
func (l *loader) all() {
	l.vehicle()
	l.sources()
	l.corners()
	l.optics()
	l.limits()
	l.turnOrder()
	l.confirmations()
	l.record()
	l.results()
	if len(l.faults.list) == 0 {
		if _, err := dbc.Compile(l.out.Bindings); err != nil {
			l.faults.add(l.tree.at("sources"), "the channels cannot be decoded together: %s", err)
		}
	}
}

// vehicle reads what stands alone at the top.
func (l *loader) vehicle() {
	l.out.Vehicle = strings.TrimSpace(l.words.Vehicle)
	if wrong := unfit(l.out.Vehicle); wrong != "" {
		l.faults.add(l.tree.at("vehicle"), "the name %s %s", quote(l.out.Vehicle), wrong)
	}
	if l.out.Vehicle == "" && (!l.tree.given("vehicle") || l.tree.get("vehicle") != nil) {
		l.faults.add(l.tree.at("vehicle"), "vehicle is missing: write vehicle: NAME, under which reports file this vehicle")
	}
	if m := l.words.MassKg; m != nil {
		l.above(l.tree, "mass_kg", *m, "kg, the mass of the whole vehicle")
		l.out.Checks.MassKg = *m
	}
}

// results reads the folder of the signed tests.
func (l *loader) results() {
	dir := l.words.Results
	switch {
	case dir == nil:
	case strings.TrimSpace(*dir) == "":
		l.faults.add(l.tree.at("results"), "results is empty: write the folder into which signed tests go, as in results: tests")
	case filepath.IsAbs(*dir):
		l.out.Results = *dir
	default:
		l.out.Results = filepath.Join(l.dir, *dir)
	}
}

// above reports a number that must be above zero.
func (l *loader) above(n *node, key string, v float64, what string) {
	if v <= 0 {
		l.faults.add(n.at(key), "%s is %v: write a number above 0 (%s)", key, v, what)
	}
}

// subject is a name that results use.
type subject struct {
	what string // corner, optic, source
	at   place
}

// claim reads the name of a source, corner or optic and keeps it: in results
// a name stands for one thing. It returns false where there is no usable name.
func (l *loader) claim(n *node, what, name string) bool {
	at := n.at("name")
	switch other, taken := l.subjects[name]; {
	case n.given("name") && n.get("name") == nil:
		return false // reported by type
	case name == "":
		l.faults.add(at, "%s without a name: write name: NAME", what)
		return false
	case unfit(name) != "":
		l.faults.add(at, "the name %s %s", quote(name), unfit(name))
		return false
	case name == "vehicle":
		l.faults.add(at, "no %s can be named vehicle: results call the whole vehicle so; choose another name", what)
		return false
	case taken:
		l.faults.add(at, "the name %s is taken by the %s in line %d: results tell things apart by name, choose another", quote(name), other.what, other.at.line)
		return false
	}
	if l.subjects == nil {
		l.subjects = map[string]subject{}
	}
	l.subjects[name] = subject{what, at}
	return true
}

// longestName is the length of the longest name, in characters: pages and reports have room for it, and so has a file system.
const longestName = 80

// unfit says what a name has that it must not have, and what to do; empty where it is fit. Names become parts of
// files' names and of addresses of the page, so none may lead elsewhere, and each must read as it is written.
func unfit(name string) string {
	switch {
	case strings.TrimSpace(name) != name || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsGraphic(r) }):
		return "begins or ends with a blank or holds a control character: remove it"
	case strings.ContainsAny(name, `/\`):
		return `holds / or \: write another character, names become parts of files' names`
	case name == "." || name == "..":
		return "is that of a folder: write a name with letters"
	case utf8.RuneCountInString(name) > longestName:
		return fmt.Sprintf("is longer than %d characters: shorten it", longestName)
	}
	return ""
}

// hash returns the SHA-256 of a file's bytes, hex.
func hash(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
