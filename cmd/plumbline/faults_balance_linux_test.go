package main

import (
	"errors"
	"io"
	"slices"
	"testing"

	"plumbline/bus"
	"plumbline/bus/serialport"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// tape is what a recording holds of one source.
type tape struct {
	frames []bus.Frame
	lost   map[bus.Place]int64
	gaps   int // places where the recording says that something is missing
}

// tapes reads all that was recorded, by source of the setup.
func tapes(t *testing.T, s *setup.Setup, dir string) []tape {
	t.Helper()
	out := make([]tape, len(s.Sources))
	for i := range out {
		out[i].lost = map[bus.Place]int64{}
	}
	parts, err := record.Parts(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(parts) == 0 {
		return out
	}
	src, err := record.Open(parts)
	if err != nil {
		t.Fatal(err)
	}
	of := func(name string) int {
		return slices.IndexFunc(s.Sources, func(s setup.Source) bool { return s.Match == name })
	}
	in := serialport.NewDecoder(src, func(name string) *serialport.Framer {
		i := of(name)
		if i < 0 || s.Sources[i].Kind != setup.Serial {
			return nil
		}
		f, err := serialport.NewFramer(s.Sources[i].Format)
		if err != nil {
			t.Error(err)
			return nil
		}
		return f
	})
	defer in.Close()
	var b bus.Batch
	for {
		err := in.Read(&b)
		names := in.Names()
		for i := range b.Frames {
			if k := of(names[b.Frames[i].Source]); k >= 0 {
				out[k].frames = append(out[k].frames, b.Frames[i])
			}
		}
		for i := range b.Notes {
			n := &b.Notes[i]
			if n.Kind != bus.Loss {
				continue
			}
			if k := of(names[n.Source]); k >= 0 {
				out[k].lost[n.Place] += int64(n.Count)
				out[k].gaps++
			}
		}
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// holes holds what was recorded of a wire against what it sent: everything recorded was sent, in that order and once.
// It returns how many of the frames sent are missing, and how many of those were sent before frame number before.
func (w *wire) holes(t *testing.T, recorded []bus.Frame, before int64) (missing, early int64) {
	t.Helper()
	next := 0
	for _, s := range w.taken {
		for n := s.from; n < s.to; n++ {
			if next < len(recorded) && same(w.of(s, n), &recorded[next]) {
				next++
				continue
			}
			missing++
			if !s.flood && n < before {
				early++
			}
		}
	}
	if next < len(recorded) {
		t.Errorf("%s: frame %d of %d in the recording, %X of %03X, was not sent then, or once only",
			w.source, next, len(recorded), recorded[next].Payload(), recorded[next].ID)
	}
	return missing, early
}

func same(a, b *bus.Frame) bool {
	return a.ID == b.ID && a.Len == b.Len && a.Data == b.Data
}
