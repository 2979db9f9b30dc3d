package capture

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"unicode/utf8"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/pcapng"
)

// sniffSize is how many of the first bytes are looked at. Larger reads pass by
// a buffer of this size.
const sniffSize = 4096

// Open opens the recording at path; "-" is standard input. It waits for the
// first bytes, no longer. An empty recording is a source that ends at once.
// The source implements [Progress].
//
// Errors: path cannot be opened or is a directory; what is in it is packed in
// a way that is not read here, or is neither text nor pcapng nor pcap.
func Open(path string) (bus.Source, error) {
	in, err := openInput(path)
	if err != nil {
		return nil, err
	}
	s, err := newSource(in)
	if err != nil {
		_ = in.Close() // was only read
		return nil, err
	}
	return s, nil
}

// source is a reader of a recording together with the file below it.
type source struct {
	bus.Source // of the content
	in         *input
	unpacked   *unpacker // nil where nothing is packed
	last       int64     // event time of the last frame, ns
	told       bool      // how the packed stream ended
	lines      []uint16  // the serial ports of which bytes came
}

func newSource(in *input) (*source, error) {
	content := bufio.NewReaderSize(in, sniffSize)
	head, err := peek(content)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", in.name, err)
	}
	s := &source{in: in}
	if format := packing(head); format != nil {
		if format.unpack == nil {
			return nil, fmt.Errorf("%s: packed with %s, which is not read here; unpack it first", in.name, format.name)
		}
		nuls, err := in.trimNULs()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", in.name, err)
		}
		if nuls > 0 {
			content.Reset(in)
		}
		s.unpacked = &unpacker{name: in.name, format: format, in: content, nuls: nuls}
		content = bufio.NewReaderSize(s.unpacked, sniffSize)
		if head, err = peek(content); err != nil {
			return nil, err // unpacker says where
		}
	}
	if bytes.HasPrefix(head, []byte("\xEF\xBB\xBF")) { // byte order mark of UTF-8
		_, _ = content.Discard(3) // is buffered
		head = head[3:]
	}
	named := struct {
		io.Reader
		io.Closer
	}{content, in}
	switch {
	case pcapng.Match(head):
		s.Source = pcapng.NewReader(in.name, named)
	case bytes.HasPrefix(head, []byte("\xFF\xFE")), bytes.HasPrefix(head, []byte("\xFE\xFF")):
		return nil, fmt.Errorf("%s: UTF-16 text; candump -L writes ASCII: convert it, for example with iconv -f UTF-16 -t ASCII", in.name)
	case isText(head):
		s.Source = candump.NewReader(in.name, named)
	default:
		return nil, fmt.Errorf("%s: not a recording of a bus: expected candump -L text, pcapng or pcap, each also packed with gzip or zstd; it begins with % X",
			in.name, head[:min(len(head), 8)])
	}
	return s, nil
}

// peek returns the first bytes of content: 4 at least, unless there are fewer,
// and what has come with them. It does not wait for more: they may be all that
// a live pipe has for a while.
func peek(content *bufio.Reader) ([]byte, error) {
	if _, err := content.Peek(4); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return content.Peek(content.Buffered())
}

// Read implements [bus.Source].
func (s *source) Read(b *bus.Batch) error {
	err := s.Source.Read(b)
	if n := len(b.Frames); n > 0 {
		s.last = b.Frames[n-1].At
	}
	for i := range b.Chunks {
		if source := b.Chunks[i].Source; !slices.Contains(s.lines, source) {
			s.lines = append(s.lines, source)
		}
	}
	if !errors.Is(err, io.EOF) || s.unpacked == nil || s.unpacked.ended == "" || s.told {
		return err
	}
	s.told = true
	for _, source := range s.lines { // the recording may go on in another file, and bytes are not to be joined over the hole
		b.Notes = append(b.Notes, bus.Note{
			Before: len(b.Frames), At: s.last, Kind: bus.Loss, Source: source, Place: bus.Recorder,
			Text: "what came last of " + s.Names()[source] + " is missing: the recording was cut off",
		})
	}
	b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: s.last, Kind: bus.Warning, Text: s.unpacked.ended})
	return nil
}

// Fraction implements [Progress].
func (s *source) Fraction() (done float64, known bool) { return s.in.Fraction() }

// isText reports whether a recording that begins with head can be text. NUL
// bytes say nothing: a power loss can leave them anywhere. Comments may be in
// any encoding, so a few bytes that are not UTF-8 do not matter, either.
func isText(head []byte) bool {
	used, strange := 0, 0
	for len(head) > 0 {
		r, size := utf8.DecodeRune(head)
		switch {
		case r == 0:
			head = head[1:]
			continue
		case r == utf8.RuneError && size == 1 && utf8.FullRune(head), // the last rune may be cut
			r < ' ' && r != '\t' && r != '\n' && r != '\r' && r != '\v' && r != '\f',
			r == 0x7F:
			strange++
		}
		used++
		head = head[size:]
	}
	return strange*20 <= used
}
