package simulated

import (
	"testing"

	"plumbline/bus"
)

// TestBitRate: each bus tells its bit rate once, before the first frame, where it has one.
func TestBitRate(t *testing.T) {
	for _, rate := range []uint32{0, 500_000} {
		c := Standard(2)
		c.BitRate, c.Script = rate, []Phase{{Kind: Rest, Seconds: 1}}
		c.Corners[1].Bus = "can1"
		v, err := New(c)
		if err != nil {
			t.Fatal(err)
		}
		var b bus.Batch
		told := 0
		for frames := 0; v.Read(&b) == nil; frames += len(b.Frames) {
			for _, n := range b.Notes {
				if n.Kind != bus.LinkChanged {
					continue
				}
				if n.BitRate != rate || int(n.Source) != told || frames+n.Before > 0 || n.At != DefaultStart {
					t.Errorf("got %+v behind %d frames", n, frames+n.Before)
				}
				told++
			}
		}
		if want := 2 * int(min(rate, 1)); told != want {
			t.Errorf("%d bit/s: told %d times, want %d", rate, told, want)
		}
	}
}
