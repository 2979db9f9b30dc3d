package candump

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbline/bus"
)

// anyFrame draws a frame of any kind that there is, of a source that has been met or of the next one.
func anyFrame(t *rapid.T, met int) bus.Frame {
	f := bus.Frame{
		At:     rapid.Int64Range(0, (maxSeconds+1)*second-1).Draw(t, "at"),
		Source: uint16(rapid.IntRange(0, met).Draw(t, "source")),
	}
	if rapid.Bool().Draw(t, "whole µs") {
		f.At -= f.At % 1000
	}
	longest, widest := maxClassic, uint32(maxID11)
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 1:
		f.Flags = bus.Error
		widest = maxID29
	case 2:
		f.Flags = bus.Remote
	case 3:
		f.Flags = bus.FD | rapid.SampledFrom([]bus.Flags{0, bus.BitRateSwitch, bus.ErrorState, bus.BitRateSwitch | bus.ErrorState}).Draw(t, "fd")
		longest = bus.MaxData
	}
	if f.Flags != bus.Error && rapid.Bool().Draw(t, "extended") {
		f.Flags |= bus.Extended
		widest = maxID29
	}
	if rapid.Bool().Draw(t, "transmitted") {
		f.Flags |= bus.Transmitted
	}
	f.ID = rapid.Uint32Range(0, widest).Draw(t, "id")
	f.Len = uint8(rapid.IntRange(0, longest).Draw(t, "length"))
	if !f.Flags.Has(bus.Remote) {
		copy(f.Data[:], rapid.SliceOfN(rapid.Byte(), int(f.Len), int(f.Len)).Draw(t, "data"))
	}
	return f
}

// pieces hands out text in lengths that were drawn, again and again.
type pieces struct {
	text  string
	sizes []int
}

func (p *pieces) Read(b []byte) (int, error) {
	if p.text == "" {
		return 0, io.EOF
	}
	n := copy(b[:min(len(b), p.sizes[0])], p.text)
	p.text, p.sizes = p.text[n:], append(p.sizes[1:], p.sizes[0])
	return n, nil
}

// TestPropertyRoundTrip: what the Writer wrote, frames of every kind of any interfaces with marks between them, the Reader
// gives again in its order, however the bytes arrive and whatever the size of a batch.
func TestPropertyRoundTrip(t *testing.T) {
	letter := rapid.RuneFrom([]rune("canvlxi0123456789_/äß中.-#()"))
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SliceOfNDistinct(rapid.StringOfN(letter, 1, -1, maxName), 8, 8, rapid.ID).Draw(t, "names")
		var out bytes.Buffer
		var want result
		w := NewWriter(&out, all)
		for range rapid.IntRange(1, 30).Draw(t, "lines") {
			if rapid.IntRange(0, 9).Draw(t, "mark") == 9 {
				n := bus.Note{Before: len(want.Frames), Kind: bus.Mark, Text: "m" + strings.TrimSpace(rapid.StringOf(rapid.Rune().Filter(func(r rune) bool { return r >= ' ' && r != 0x7F })).Draw(t, "text"))}
				if len(want.Frames) > 0 {
					n.At = want.Frames[len(want.Frames)-1].At
				}
				if err := w.Mark(n.Text); err != nil {
					t.Fatal(err)
				}
				want.Notes = append(want.Notes, n)
				continue
			}
			f := anyFrame(t, min(len(want.Names), len(all)-1))
			if err := w.Write(&f); err != nil {
				t.Fatal(err)
			}
			want.Frames = append(want.Frames, f)
			want.Names = all[:max(len(want.Names), int(f.Source)+1)]
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		in := &pieces{out.String(), rapid.SliceOfN(rapid.IntRange(1, 200), 1, 5).Draw(t, "pieces")}
		got, err := readAll(t, NewReader("t.log", in), rapid.IntRange(1, 40).Draw(t, "batch"))
		if err != nil || !slices.Equal(got.Frames, want.Frames) || !slices.Equal(got.Notes, want.Notes) || !slices.Equal(got.Names, want.Names) {
			t.Fatalf("%v, of\n%s: got -, want +\n%s", err, out.String(), cmp.Diff(got, want))
		}
	})
}
