package checks

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

func TestHum(t *testing.T) {
	// The rig sends forces at r.at, a multiple of its period after its start.
	mains := func(hz, amplitude float64) func(*rig) {
		return func(r *rig) {
			start := r.at
			alter(Fz, func(_ int, v float64) float64 {
				return v + amplitude*math.Sin(2*math.Pi*hz*float64(r.at-start)*1e-9+0.7)
			})(r)
		}
	}
	judgeSignals(t, "hum", []signalCase{
		{name: "clean", verdict: Pass, says: "Hz"},
		{name: "50 Hz", spoil: mains(50, 45), verdict: Fail, says: " of 50 Hz, more than 15.0 N", value: 45, near: 1},
		{name: "60 Hz", spoil: mains(60, 45), verdict: Fail, says: " of 60 Hz, more than 15.0 N", value: 45, near: 1},
		{name: "50.2 Hz", spoil: mains(50.2, 45), verdict: Fail, value: 45, near: 2},
		{name: "in a moment", spoil: func(r *rig) {
			start := r.at
			alter(My, func(_ int, v float64) float64 { return v + 5*math.Sin(314.159265*float64(r.at-start)*1e-9) })(r)
		}, channel: "my", verdict: Fail, says: "more than 3.00 N·m", value: 5, near: 0.2},
		{name: "below the limit", spoil: mains(50, 13), verdict: Pass, value: 13, near: 1},
		{name: "at the limit", spoil: mains(50, 15), verdict: Inconclusive, says: "too close to the limit of 15.0 N", value: 15, near: 1},
		{name: "above the limit", spoil: mains(50, 18), verdict: Fail, value: 18, near: 1},
		{name: "another frequency", spoil: mains(43, 20), verdict: Pass},
		{name: "under noise", spoil: several(func(r *rig) { r.wheels[1].noiseN = 250 }), verdict: Inconclusive, says: "the noise of FR fz hides up to", also: []string{"noise fx", "noise fy", "noise fz", "noise mx", "noise my", "noise mz"}},
		{name: "only rolling", do: func(r *rig) {
			r.run(0.5)
			for _, w := range r.wheels {
				w.omega = 20
			}
			r.run(10)
		}, verdict: Inconclusive, says: "at rest for 0 whole seconds"},
		// At 110 values a second 60 Hz shows at 50 Hz and the reverse; at 90 they show at 40 and 30 Hz.
		{name: "aliased, 90 values a second", spoil: several(atRate(90), mains(50, 45)), verdict: Fail, says: "50 Hz (at 90 values a second it shows at 40.0 Hz), more", value: 45, near: 2},
		{name: "aliased, 70 values a second", spoil: several(atRate(70), mains(60, 45)), verdict: Fail, says: "60 Hz (at 70 values a second it shows at 10.0 Hz), more", value: 45, near: 2},
		{name: "50 Hz falls on half of the rate", spoil: several(atRate(100), mains(60, 45)), verdict: Fail, says: "60 Hz (at 100 values a second it shows at 40.0 Hz)", value: 45, near: 2},
		{name: "one of the two cannot be seen", spoil: atRate(100), verdict: Pass, says: "; 50 Hz cannot be seen at 100.0 values a second"},
		{name: "neither can be seen", spoil: several(atRate(10), mains(50, 45)), do: func(r *rig) { r.run(60) }, verdict: Inconclusive, says: "neither 50 nor 60 Hz can be seen at that rate"},
		{name: "1000 Hz", spoil: several(atRate(1000), mains(50, 45)), verdict: Fail, value: 45, near: 1},
		{name: "10000 Hz", spoil: several(atRate(10_000), mains(60, 45)), verdict: Fail, value: 45, near: 1},
		{name: "frames lost", spoil: several(mains(50, 45), func(r *rig) { r.drop = func(int) bool { return r.random.IntN(10) == 0 } }), verdict: Fail, value: 45, near: 6},
		{name: "frozen", spoil: alter(Fz, func(int, float64) float64 { return 3000 }), verdict: Inconclusive, says: "stands still", also: []string{"frozen fz"}},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}

// What cannot be seen does not hold the verdict back.
func TestHumUnseenIsNotRequired(t *testing.T) {
	r := newRig(1, "FL")
	atRate(10)(r)
	r.run(60)
	if f := find(r.judge.Result(), "hum", "FL", "fx"); f.Verdict != Inconclusive || f.Required {
		t.Errorf("%s, required %t: %s; want inconclusive, not required", f.Verdict, f.Required, f.Sentence)
	}
}

// By hand: |f − rate·round(f/rate)|.
func TestAlias(t *testing.T) {
	for _, c := range []struct {
		f, rate, at float64
		seen        bool
	}{
		{50, 200, 50, true},
		{60, 200, 60, true},
		{50, 1000, 50, true},
		{50, 120, 50, true},
		{60, 120, 60, false}, // half of the rate
		{50, 100, 50, false},
		{60, 100, 40, true},
		{50, 90, 40, true},
		{60, 90, 30, true},
		{50, 60, 10, true},
		{60, 60, 0, false}, // what stands still
		{50, 50, 0, false},
		{60, 50, 10, true},
		{50, 25, 0, false},
		{50, 10, 0, false},
		{50, 19, 7, false}, // too few values a second
		{50, 0, 0, false},
		{50, math.NaN(), 0, false},
	} {
		at, seen := alias(c.f, c.rate)
		if math.Abs(at-c.at) > 1e-9 || seen != c.seen {
			t.Errorf("%g Hz at %g: %g Hz, seen %t; want %g, %t", c.f, c.rate, at, seen, c.at, c.seen)
		}
	}
}

// listened returns the squared amplitudes that a block works out of a signal.
func listened(n int, rate float64, signal func(t float64) float64) [toneCount]float64 {
	b := block{components: []Quantity{Fz}, v: [][]float64{make([]float64, n)}, at: make([]int64, n), n: n, kept: make([][keptBlocks]second, 1), tones: make([]tones, 1)}
	for i := range n {
		b.at[i] = int64(math.Round(float64(i) / rate * 1e9))
		b.v[0][i] = signal(float64(b.at[i]) * 1e-9)
	}
	b.listen(0)
	return b.kept[0][0].power
}

// The Fourier transform of gonum, of the same second under the same window, has the same lines: 200 values a
// second make its k-th line k Hz.
func TestTonesAgainstGonum(t *testing.T) {
	const n = 200
	random := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, n)
	for i := range x {
		x[i] = 100*random.NormFloat64() + 40*math.Sin(2*math.Pi*50*float64(i)/n+1) + 900
	}
	got := listened(n, n, func(t float64) float64 { return x[int(math.Round(t*n))] })

	// The straight line through it, by the textbook's sums.
	var st, sx, stt, stx float64
	for i, v := range x {
		u := float64(i)
		st += u
		sx += v
		stt += u * u
		stx += u * v
	}
	slope := (n*stx - st*sx) / (n*stt - st*st)
	level := (sx - slope*st) / n
	weights := 0.0
	windowed := make([]float64, n)
	for i, v := range x {
		w := math.Pow(math.Sin(math.Pi*(float64(i)+0.5)/n), 2)
		weights += w
		windowed[i] = w * (v - level - slope*float64(i))
	}
	lines := fourier.NewFFT(n).Coefficients(nil, windowed)
	for k := range toneCount {
		want := 4 * math.Pow(cmplx.Abs(lines[int(toneHz(k))])/weights, 2)
		if math.Abs(got[k]-want) > 1e-6*want {
			t.Errorf("%g Hz: %v, want %v", toneHz(k), got[k], want)
		}
	}
}

// A sampled sine of amplitude A that fills whole periods has the line A, and under a Hann window none that is two or more
// lines away (closed form: the window's transform is 1, −½, −½ and 0 beyond).
func TestTonesClosedForm(t *testing.T) {
	for _, c := range []struct {
		hz, rate float64
		n        int
		tone     int
	}{
		{50, 200, 200, tone50},
		{60, 200, 200, tone60},
		{50, 1000, 1000, tone50},
		{60, 90, 90, tone60}, // shows at 30 Hz
		{50, 60, 60, tone50}, // shows at 10 Hz
	} {
		for _, phase := range []float64{0, 0.5, 1, 2} {
			got := listened(c.n, c.rate, func(t float64) float64 { return 3 * math.Cos(2*math.Pi*c.hz*t+phase) })
			if math.Abs(math.Sqrt(got[c.tone])-3) > 0.02 {
				t.Errorf("%g Hz at %g, phase %g: amplitude %v, want 3", c.hz, c.rate, phase, math.Sqrt(got[c.tone]))
			}
			for _, k := range neighbours(c.tone) {
				if math.Sqrt(got[k]) > 0.02 {
					t.Errorf("%g Hz at %g, phase %g: %v at %g Hz, want none", c.hz, c.rate, phase, math.Sqrt(got[k]), toneHz(k))
				}
			}
		}
	}
}

// The phasors are those of the frequencies that toneHz names.
func TestPhasors(t *testing.T) {
	var re, im [toneCount]float64
	for _, at := range []float64{0, 0.0037, 0.5, 1.013, 16} {
		phasors(at, &re, &im)
		for k := range toneCount {
			want := cmplx.Exp(complex(0, -2*math.Pi*toneHz(k)*at))
			if cmplx.Abs(complex(re[k], im[k])-want) > 1e-11 {
				t.Errorf("%g Hz at %g s: %v, want %v", toneHz(k), at, complex(re[k], im[k]), want)
			}
		}
	}
}
