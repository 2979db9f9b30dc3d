package daemon

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"testing"
	"testing/synctest"

	"plumbline/bus"
	"plumbline/bus/pcapng"
	"plumbline/bus/serialport"
	"plumbline/daemon/setup"
)

// wired is a serial line whose bytes come in the pieces that are sent to it, with the frames that its reader makes of them.
type wired struct {
	*port
	pieces chan string
	framer *serialport.Framer
}

func (w *wired) Read(b *bus.Batch) error {
	b.Reset()
	select {
	case p := <-w.pieces:
		b.Chunks = append(b.Chunks, bus.Chunk{At: 7, Data: []byte(p)})
		w.framer.Feed(7, 0, []byte(p), b)
		return nil
	case <-w.closed:
		return io.EOF
	}
}

// TestRingFullSerial: where the ring had no room for bytes of a serial line, what came before them and what comes after
// them is not taken for one packet, neither by who cuts them again while they are heard nor by who replays the recording; also
// where what found no room made no frame by itself.
func TestRingFullSerial(t *testing.T) {
	// line k is "k;k", and piece k its second half with the first half of the next one
	piece := func(k int) string { return fmt.Sprintf(";%d\r%d", k, k+1) }
	numbers := func(f *bus.Frame) (all []float64) {
		for p := f.Payload(); len(p) > 0; p = p[8:] {
			all = append(all, math.Float64frombits(binary.LittleEndian.Uint64(p)))
		}
		return all
	}
	const n = liveRing
	for _, test := range []struct {
		name  string
		full  []string // find no room
		then  []string // the first of these does not, either: it was waited for already
		frame uint64   // told as lost
		last  float64
	}{
		{"lines", []string{piece(n), piece(n + 1)}, []string{piece(n + 2), piece(n + 3), piece(n + 4)}, 3, n + 4},
		{"a piece of a line", nil, []string{fmt.Sprintf(";%d", n), "0\r7;7\r8;8\r"}, 0, 8},
	} {
		t.Run(test.name, func(t *testing.T) {
			src := setup.Source{Name: "optics", Match: "optics", Kind: setup.Serial, Format: serialport.Format{Framing: serialport.Lines}}
			bench := &Bench{setup: &setup.Setup{Sources: []setup.Source{src}}}
			tape := pcapng.AppendInterface(pcapng.AppendInterface(pcapng.AppendSection(nil, &pcapng.Section{}), pcapng.Events, ""), pcapng.Serial, "optics")
			var live [][]float64
			synctest.Test(t, func(t *testing.T) {
				framer, err := serialport.NewFramer(src.Format)
				if err != nil {
					t.Fatal(err)
				}
				w := &wired{newPort("optics"), make(chan string), framer}
				l := NewLive([]bus.Source{w})
				r := bench.recut(l)
				send := func(pieces ...string) {
					for _, p := range pieces {
						w.pieces <- p
						synctest.Wait()
					}
				}
				lost, told := uint64(0), 0
				var b bus.Batch
				take := func() {
					if err := r.Read(&b); err != nil {
						t.Fatal(err)
					}
					for i := range b.Notes {
						note := &b.Notes[i]
						if note.Kind == bus.Loss {
							lost += note.Count
							told++
							tape = pcapng.AppendNote(tape, 0, note, "optics")
						}
					}
					for _, c := range b.Chunks {
						tape = pcapng.AppendChunk(tape, 1, c.At, c.Data)
					}
					for i := range b.Frames {
						live = append(live, numbers(&b.Frames[i]))
					}
				}
				for k := range n {
					send(piece(k))
				}
				send(test.full...)
				for range n {
					take()
				}
				send(test.then...)
				for live[len(live)-1][0] != test.last {
					take()
				}
				if lost != test.frame || told != 1 {
					t.Errorf("%d frames told as lost in %d notes, want %d in one", lost, told, test.frame)
				}
				if err := r.Close(); err != nil {
					t.Error(err)
				}
			})
			var replayed [][]float64
			in := bench.framed(pcapng.NewReader("x", bytes.NewReader(tape)))
			var b bus.Batch
			for {
				err := in.Read(&b)
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				for i := range b.Frames {
					replayed = append(replayed, numbers(&b.Frames[i]))
				}
			}
			for name, all := range map[string][][]float64{"heard": live, "replayed": replayed} {
				if i := slices.IndexFunc(all, func(line []float64) bool { return len(line) != 2 || line[0] != line[1] }); i >= 0 {
					t.Errorf("%s: %g was never sent", name, all[i])
				}
			}
			if !slices.EqualFunc(live, replayed, slices.Equal[[]float64]) {
				t.Errorf("heard %g, replayed %g", live, replayed)
			}
		})
	}
}
