package serialport

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"plumbline/bus"
)

const (
	guessFor   = 1500 * time.Millisecond // of listening at each baud rate
	guessBytes = 8192                    // or so many bytes
	guessLeast = 3                       // valid frames below which nothing is claimed
)

// Candidate is a baud rate and a format by which valid frames were found.
type Candidate struct {
	Baud   int    // bit/s
	Format Format // as it was tried
	Stats  Stats
	Score  float64 // share of the bytes that is in valid frames, 0 to 1
}

// String returns the candidate as a line for a person.
func (c Candidate) String() string {
	checksum := "no checksum"
	if s := c.Format.Checksum; s != nil {
		checksum = "checksum " + string(s.Kind)
		if s.Kind == KindCRC {
			checksum = fmt.Sprintf("checksum width %d, poly 0x%X, init 0x%X, xor_out 0x%X, reflected %t", s.CRC.Width, s.CRC.Poly, s.CRC.Init, s.CRC.XorOut, s.CRC.ReflectIn)
		}
	}
	return fmt.Sprintf("baud %d, framing %s, %s: %d frames, %.0f %% of %d bytes", c.Baud, c.Format.Framing, checksum, c.Stats.Frames, 100*c.Score, c.Stats.Bytes)
}

// GuessBauds are the baud rates that Guess tries where none are given: the usual ones, most common first.
func GuessBauds() []int {
	return []int{115200, 921600, 9600, 460800, 230400, 57600, 38400, 19200, 1000000, 2000000, 3000000, 4800}
}

// GuessFormats are the formats that Guess tries where none are given: those that
// say nothing of a single device. Packets with sync bytes are not among them.
func GuessFormats() []Format {
	checksums := []*Checksum{
		{CRC: CRC{Width: 32, Poly: 0x04C11DB7, Init: 0xFFFFFFFF, XorOut: 0xFFFFFFFF, ReflectIn: true, ReflectOut: true}},
		{CRC: CRC{Width: 16, Poly: 0x1021, Init: 0xFFFF}},
		{CRC: CRC{Width: 16, Poly: 0x1021}},
		{CRC: CRC{Width: 16, Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true}},
		{CRC: CRC{Width: 16, Poly: 0x1021, Init: 0xFFFF, XorOut: 0xFFFF, ReflectIn: true, ReflectOut: true}},
		{CRC: CRC{Width: 8, Poly: 0x07}},
		{CRC: CRC{Width: 8, Poly: 0x1D, Init: 0xFF, XorOut: 0xFF}},
		{Kind: KindSum8},
		{Kind: KindXor8},
		nil,
	}
	formats := []Format{{Framing: SLCAN}, {Framing: Lines, Checksum: &Checksum{Kind: KindXor8}}, {Framing: Lines}}
	for _, framing := range []Framing{COBS, SLIP} {
		for _, c := range checksums {
			formats = append(formats, Format{Framing: framing, Checksum: c})
		}
	}
	return formats
}

// Guess listens at one baud rate after the other, 1.5 s each, and tells which
// formats find valid frames, the best first. It only reads. A format with a checksum
// goes before one without that finds as much, and earlier ones before later ones. None
// is returned that found fewer than three frames or makes less than a tenth of
// the bytes. bauds and formats may be nil for the usual ones. An error is
// returned where the port cannot be opened or a format is wrong; with the error
// of a context that has ended comes what was found before.
func Guess(ctx context.Context, path string, bauds []int, formats []Format) ([]Candidate, error) {
	return guess(ctx, bauds, formats, func(baud int) (*input, error) {
		c := Config{Path: path, Baud: baud}
		return c.line().open()
	})
}

func guess(ctx context.Context, bauds []int, formats []Format, open func(baud int) (*input, error)) ([]Candidate, error) {
	if bauds == nil {
		bauds = GuessBauds()
	}
	if formats == nil {
		formats = GuessFormats()
	}
	var found []Candidate
	for _, baud := range bauds {
		if baud <= 0 {
			return nil, fmt.Errorf("guess: baud %d: expected a bit rate above 0", baud)
		}
		data, err := overhear(ctx, baud, open)
		if err == nil {
			var tried []Candidate
			tried, err = try(baud, data, formats)
			found = append(found, tried...)
		}
		if err != nil {
			rank(found)
			return found, fmt.Errorf("guess at %d baud: %w", baud, err)
		}
	}
	rank(found)
	return found, nil
}

// rank sorts by what was found; equals stay in the order in which they were tried.
func rank(found []Candidate) {
	slices.SortStableFunc(found, func(a, b Candidate) int {
		// In steps: some per cent are the packets cut off at both ends.
		return cmp.Or(
			cmp.Compare(math.Round(10*b.Score), math.Round(10*a.Score)),
			cmp.Compare(weight(b.Format), weight(a.Format)),
		)
	})
}

// weight is how many bytes of each packet must be right for it to be valid.
func weight(f Format) int {
	w := len(f.Sync)
	if f.Checksum != nil {
		w += f.Checksum.size()
	}
	if f.Framing == SLCAN {
		w++ // the shape of each line is a check
	}
	return w
}

// overhear returns what arrives at a baud rate.
func overhear(ctx context.Context, baud int, open func(int) (*input, error)) (data []byte, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	in, err := open(baud)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, in.close()) }()
	buf := make([]byte, guessBytes)
	n := 0
	for end := time.Now().Add(guessFor); n < len(buf) && time.Now().Before(end); {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		before := time.Now()
		got, err := in.read(buf[n:])
		if err != nil {
			return nil, err
		}
		n += got
		if got == 0 && time.Since(before) < poll/2 {
			time.Sleep(poll / 10)
		}
	}
	return buf[:n], nil
}

// try cuts the bytes by each format.
func try(baud int, data []byte, formats []Format) ([]Candidate, error) {
	var found []Candidate
	var b bus.Batch
	for _, format := range formats {
		f, err := NewFramer(format)
		if err != nil {
			return nil, err
		}
		for rest := data; len(rest) > 0; {
			b.Reset()
			rest = rest[f.Feed(1, 0, rest, &b):]
		}
		s := f.Stats()
		if s.Frames < guessLeast {
			continue
		}
		c := Candidate{Baud: baud, Format: format, Stats: s, Score: float64(s.Valid) / float64(s.Bytes)}
		if c.Score >= 0.1 {
			found = append(found, c)
		}
	}
	return found, nil
}
