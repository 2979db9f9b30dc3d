package checks

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Windows against the same sums taken in two passes over the values themselves.
func TestRecent(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name    string
		seconds int
		value   func(s float64) float64
		rateHz  int
		noise   float64 // expected; NaN: not stated
	}{
		{"white noise on a large mean", 1, func(float64) float64 { return 1e6 + 3*random.NormFloat64() }, 1000, 3},
		{"ten seconds of it", 10, func(float64) float64 { return -7900 + 3*random.NormFloat64() }, 200, 3},
		{"a ramp has no noise", 10, func(s float64) float64 { return 40 * s }, 100, 0},
		// (ω·T)²/√6 of the RMS, to the second order
		{"what turns is mostly left out", 10, func(s float64) float64 { return 500 * math.Sqrt2 * math.Sin(30*s) }, 1000, 500 * 0.03 * 0.03 / math.Sqrt(6)},
		{"slower than the window", 1, func(s float64) float64 { return s }, 2, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			var r recent
			start, now := int64(1_700_000_000_300_000_000), int64(1_700_000_015_700_000_000)
			var in []float64
			low, high, sum := math.Inf(1), math.Inf(-1), 0.0
			for i := 0; ; i++ {
				at := start + int64(i)*1_000_000_000/int64(c.rateHz)
				if at > now {
					break
				}
				v := c.value(float64(at-start) * 1e-9)
				r.add(at, v)
				if second := at / 1e9; second < now/1e9 && second >= now/1e9-int64(c.seconds) {
					in = append(in, v)
					low, high, sum = math.Min(low, v), math.Max(high, v), sum+v
				}
			}
			square := 0.0
			for _, v := range in {
				square += (v - sum/float64(len(in))) * (v - sum/float64(len(in)))
			}
			got := r.window(now, c.seconds)
			want := Window{Samples: int64(len(in)), Mean: sum / float64(len(in)), Low: low, High: high, Deviation: math.Sqrt(square / float64(len(in)))}
			if got.Samples != want.Samples || got.Low != want.Low || got.High != want.High ||
				math.Abs(got.Mean-want.Mean) > 1e-9*math.Abs(want.Mean) || math.Abs(got.Deviation-want.Deviation) > 1e-9*(1+want.Deviation) {
				t.Errorf("got %+v, want %+v", got, want)
			}
			if !math.IsNaN(c.noise) && math.Abs(got.Noise-c.noise) > 0.1*c.noise+1e-9 {
				t.Errorf("noise: got %v, want %v", got.Noise, c.noise)
			}
		})
	}
}

func TestRecentLeavesOut(t *testing.T) {
	r := recent{named: []NamedValue{{Value: 250, Text: "not available"}}, step: 1}
	const second = int64(1e9)
	for i, v := range []float64{20, math.NaN(), 22, 250, math.Inf(1), 24} {
		r.add(100*second+int64(i)*second/10, v)
	}
	if got, want := r.window(101*second, 1), (Window{Samples: 3, Mean: 22, Low: 20, High: 24, Deviation: math.Sqrt(8.0 / 3)}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got := r.window(100*second+second/2, 1); got.Samples != 0 {
		t.Errorf("a second under way counts: %+v", got)
	}
	if got := r.window(110*second, 10); got.Samples != 3 {
		t.Errorf("ten seconds later: got %+v", got)
	}
	for _, late := range []int64{111, 112, 122, 1000} {
		if got := r.window(late*second, 10); got != (Window{}) {
			t.Errorf("silent for %d s, and still: %+v", late-100, got)
		}
	}
	r.add(130*second, 30) // takes the place of nothing that is still looked at
	r.add(129*second+second/2, 31)
	if got := r.window(131*second, 10); got.Samples != 2 || got.Noise != 0 {
		t.Errorf("after a silence: %+v", got)
	}
}

func TestNowShowsWindows(t *testing.T) {
	r := newRig(4, "FL")
	r.start()
	r.judge.KeepWindows()
	r.run(12.5)
	s := r.judge.Now()
	set := &r.setup.Corners[0]
	for q, least := range map[Quantity]int64{Fx: 199, Fz: 199, Spin: 0} {
		if ch := set.Channels[q]; ch != None {
			if w := s.Channels[ch]; w.Second.Samples < least || w.Ten.Samples < 10*least || w.Second.Low > w.Second.Mean || w.Second.Mean > w.Second.High {
				t.Errorf("%s: %+v", q, w)
			}
		}
	}
	if w := s.Channels[set.Channels[Angle]]; w.Ten != (Window{}) {
		t.Errorf("an angle goes round, it has no mean: %+v", w)
	}
	m := s.Messages[r.setup.Channels[set.Channels[Fx]].Message]
	if m.Count < 2400 || m.Lost != 0 || math.Abs(m.PeriodS-0.005) > 1e-4 || m.GapS < 0.0045 || m.GapS > 0.0055 || m.At == 0 {
		t.Errorf("message: %+v", m)
	}
	r.judge.Link(s.At, 0, LinkSilent, "")
	r.judge.Loss(s.At, 0, LostQueue, 7)
	if got := r.judge.Now().Sources[0]; got.Link != LinkSilent || got.Lost[LostQueue] != 7 {
		t.Errorf("source: %+v", got)
	}
}
