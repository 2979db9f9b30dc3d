package simulated

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbline/bus"
)

// others fails where a fault moved a frame of a corner that it does not name.
func others(t *testing.T, f Fault, h, healthy *heard) {
	t.Helper()
	k, err := f.kind()
	if err != nil {
		t.Fatal(err)
	}
	if k.Subject == OneBus || k.Subject == AnyCorners && f.Corner == "" {
		return
	}
	for name, id := range h.corner {
		if strings.Contains(f.Corner, name) {
			continue
		}
		for i := range uint32(4) {
			if !slices.Equal(h.byID[id+i], healthy.byID[id+i]) {
				t.Errorf("%s moved message %d of %s", f, i, name)
			}
		}
	}
}

// within fails where a stream with losses holds anything but frames of the
// whole one, and where its counter does not show the losses.
func within(t *testing.T, part, whole []bus.Frame) {
	t.Helper()
	j := 0
	for _, f := range part {
		for j < len(whole) && whole[j] != f {
			j++
		}
		if j == len(whole) {
			t.Fatalf("a frame at %v is not one of the healthy stream", time.Duration(f.At-DefaultStart))
		}
	}
	if len(part) == len(whole) {
		t.Error("nothing was lost")
	}
}

// ringShare counts the forces of FL heard where the pick-up ring is bad and elsewhere.
func ringShare(h *heard) [2]float64 {
	var n [2]float64
	for _, p := range h.forces("FL") {
		if math.Cos(h.v.TrueAngle("FL", p.at)-ringAt) > math.Sqrt(3)/2 {
			n[0]++
		} else {
			n[1]++
		}
	}
	return n
}

func biggestStep(angles []point) float64 {
	most := 0.0
	for i := 1; i < len(angles); i++ {
		most = max(most, math.Abs(math.Remainder(angles[i].v[0]-angles[i-1].v[0], 2*math.Pi)))
	}
	return most
}

func (h *heard) forces1(i, component int) float64 {
	d := data(&h.byID[h.corner["FL"]][i])
	return float64(d.SignedBitsBigEndian(uint8(7+16*component), 16))
}

func (h *heard) bar1(i int) float64 {
	d := data(&h.byID[0x600][i])
	return 1e-5 * float64(d.UnsignedBitsBigEndian(7, 16))
}
