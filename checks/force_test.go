package checks

import (
	"math"
	"math/cmplx"
	"testing"
)

// A force that stands still in wheel axes turns in those of the transducer: f_r = f·exp(iθ), section 2 of the
// measurement model.
func TestWheelForce(t *testing.T) {
	const fx, fy, fz = 120.0, -300.0, 7900.0
	for _, fixed := range []bool{false, true} {
		var w wheelForce
		for i := range 1000 {
			at := int64(50e9) + int64(i)*1e6
			theta := 0.03 * float64(i)
			f := complex(fx, fz)
			if !fixed {
				f *= cmplx.Exp(complex(0, theta))
			}
			r := Row{At: at, Have: 1<<Fx | 1<<Fy | 1<<Fz, V: [components]float64{Fx: real(f), Fy: fy, Fz: imag(f)}}
			hang := Loaded
			if i%2 == 0 {
				hang = Lifted
			}
			w.add(&r, theta, fixed, hang)
		}
		w.add(&Row{At: 50.5e9, Have: 1 << Fz, V: [components]float64{Fz: 1e6}}, 0, false, Loaded) // half of a pair
		var got CornerState
		w.shown(51e9, &got)
		for q, want := range [forceAxes]float64{fx, fy, fz} {
			if m := got.Force[q]; m.Samples != 1000 || math.Abs(m.Mean-want) > 1e-6 || m.High-m.Low > 1e-6 {
				t.Errorf("fixed %v, %v: got %+v, want %v", fixed, Quantity(q), m, want)
			}
		}
		if h := &got.VerticalForce; h.Count != 500 || math.Abs(h.Sum-500*fz) > 1 || h.Positive[histogramBucket(fz)] != 500 {
			t.Errorf("fixed %v: %d vertical forces on the ground, sum %v", fixed, h.Count, h.Sum)
		}
	}
}

// The load is that of the whole second before now.
func TestLoadNow(t *testing.T) {
	var b Bus
	if got := b.loadAt(100e9); got.Known {
		t.Errorf("without a bit rate: %v", got)
	}
	j := New(Setup{Sources: []string{"wheels"}})
	busy := func(at float64, ns int64) { j.Busy(int64(at*1e9), 0, ns) }
	busy(100.2, 2e8)
	busy(100.9, 1e8)
	busy(101.1, 5e8)
	for _, c := range []struct{ at, want float64 }{{101.5, 0.3}, {102.5, 0.5}, {103.5, 0}} {
		if got := j.buses[0].loadAt(int64(c.at * 1e9)); !got.Known || math.Abs(got.Value-c.want) > 1e-12 {
			t.Errorf("at %v s: got %+v, want %v", c.at, got, c.want)
		}
	}
}
