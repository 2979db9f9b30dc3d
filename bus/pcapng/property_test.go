package pcapng_test

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// anyFrame draws a frame of any kind that there is.
func anyFrame(t *rapid.T) bus.Frame {
	f := bus.Frame{At: rapid.Int64Range(0, math.MaxInt64).Draw(t, "at")}
	longest, widest := 8, uint32(0x7FF)
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 1:
		f.Flags = bus.Error
		widest = 0xFFFF // classes that there are, and room
	case 2:
		f.Flags = bus.Remote
	case 3:
		f.Flags = bus.FD | rapid.SampledFrom([]bus.Flags{0, bus.BitRateSwitch, bus.ErrorState, bus.BitRateSwitch | bus.ErrorState}).Draw(t, "fd")
		longest = bus.MaxData
	}
	if f.Flags != bus.Error && rapid.Bool().Draw(t, "extended") {
		f.Flags |= bus.Extended
		widest = 0x1FFFFFFF
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

// pieces hands out bytes in lengths that were drawn, again and again.
type pieces struct {
	data  []byte
	sizes []int
}

func (p *pieces) Read(b []byte) (int, error) {
	if len(p.data) == 0 {
		return 0, io.EOF
	}
	n := copy(b[:min(len(b), p.sizes[0])], p.data)
	p.data, p.sizes = p.data[n:], append(p.sizes[1:], p.sizes[0])
	return n, nil
}

// TestPropertyRoundTrip: what was appended, frames of every kind, bytes of a serial port and notes, of any interfaces, the Reader
// gives again in its order, however the bytes arrive and whatever the size of a batch.
func TestPropertyRoundTrip(t *testing.T) {
	notes := allNotes()
	letter := rapid.RuneFrom([]rune("canvlxi0123456789_/äß中.-#()"))
	rapid.Check(t, func(t *rapid.T) {
		// 100 bytes of a name are kept
		names := rapid.SliceOfNDistinct(rapid.StringOfN(letter, 1, 25, -1), 4, 4, rapid.ID).Draw(t, "names")
		p := pcapng.AppendSection(nil, &pcapng.Section{Session: "x", Sources: names})
		p = pcapng.AppendInterface(p, pcapng.Events, "")
		for i, name := range names {
			kind := pcapng.CAN
			if i == 3 {
				kind = pcapng.Serial
			}
			p = pcapng.AppendInterface(p, kind, name)
		}
		var want []string
		for range rapid.IntRange(1, 30).Draw(t, "packets") {
			switch rapid.IntRange(0, 5).Draw(t, "packet") {
			case 5:
				n := rapid.SampledFrom(notes).Draw(t, "note")
				n.At = rapid.Int64Range(0, math.MaxInt64).Draw(t, "at")
				p = pcapng.AppendNote(p, 0, &n, names[n.Source])
				want = append(want, fmt.Sprintf("%+v", n))
			case 4:
				at, data := rapid.Int64Range(0, math.MaxInt64).Draw(t, "at"), rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "bytes")
				p = pcapng.AppendChunk(p, 4, at, data)
				want = append(want, fmt.Sprintf("%d %s %x", at, names[3], data))
			default:
				f := anyFrame(t)
				f.Source = uint16(rapid.IntRange(0, 2).Draw(t, "source"))
				p = pcapng.AppendFrame(p, uint32(f.Source)+1, &f)
				want = append(want, fmt.Sprintf("%+v", f))
			}
		}
		in := &pieces{p, rapid.SliceOfN(rapid.IntRange(1, 500), 1, 5).Draw(t, "pieces")}
		r := pcapng.NewReader("x", in)
		got := inOrder(t, r, rapid.IntRange(1, 40).Draw(t, "batch"))
		// nothing tells whether identifiers such as 0x1230000 were turned round, where there are no others
		got = slices.DeleteFunc(got, func(s string) bool { return strings.Contains(s, "may be in the byte order of the machine") })
		if !slices.Equal(got, want) || !slices.Equal(r.Names(), names) {
			t.Fatalf("names %q, got -, want +\n%s", r.Names(), cmp.Diff(got, want))
		}
	})
}
