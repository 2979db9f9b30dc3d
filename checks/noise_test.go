package checks

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"plumbline/checks/fit"
)

// noisy gives FR fz white noise of that RMS on top of what it has; 6 N are there.
func noisy(rms float64) func(*rig) {
	return func(r *rig) {
		random := rand.New(rand.NewPCG(5, 6))
		alter(Fz, func(_ int, v float64) float64 { return v + rms*random.NormFloat64() })(r)
	}
}

func TestNoise(t *testing.T) {
	sum := func(a, b float64) float64 { return math.Hypot(a, b) }
	judgeSignals(t, "noise", []signalCase{
		{name: "clean", verdict: Pass, says: "(RMS) at rest", value: 6, near: 0.3},
		{name: "clean moment", channel: "mx", verdict: Pass, value: 1, near: 0.06},
		{name: "below the limit", spoil: noisy(20), verdict: Pass, value: sum(20, 6), near: 1.5},
		{name: "at the limit", spoil: noisy(math.Sqrt(25*25 - 36)), verdict: Inconclusive, says: "too close to the limit of 25.0 N", value: 25, near: 1.5},
		{name: "above the limit", spoil: noisy(30), verdict: Fail, says: ", more than 25.0 N", value: sum(30, 6), near: 2},
		{name: "ten times the limit", spoil: noisy(250), verdict: Fail, value: 250, near: 15},
		{name: "correlated", do: func(r *rig) {
			r.wheels[1].tauS, r.wheels[1].noiseN = 0.02, 60
			r.run(20)
		}, verdict: Fail, value: 60, near: 6, also: []string{"noise fx", "noise fy", "noise mx", "noise my", "noise mz"}},
		{name: "two seconds", do: func(r *rig) { r.run(2.7) }, verdict: Inconclusive, says: "at rest for 2 whole seconds; 3 are the least"},
		{name: "three seconds", do: func(r *rig) { r.run(3.7) }, verdict: Pass},
		{name: "mains are not noise", spoil: alter(Fz, func(k int, v float64) float64 { return v + 60*math.Sin(2*math.Pi*50*float64(k)/200+0.4) }), verdict: Pass, value: 6, near: 2, also: []string{"hum fz"}},
		{name: "spikes are not noise", spoil: alter(Fz, func(k int, v float64) float64 {
			if k%150 == 99 {
				return v + 2000
			}
			return v
		}), verdict: Pass, value: 6, near: 0.4, also: []string{"spikes fz"}},
		{name: "one step is not noise", spoil: alter(Fz, func(k int, v float64) float64 {
			if k > 990 {
				return v + 3000
			}
			return v
		}), verdict: Pass, value: 6, near: 0.4},
		{name: "being lifted is not noise", do: func(r *rig) {
			r.run(3.7)
			for range 40 {
				for _, w := range r.wheels {
					w.fz -= rigLoadN / 40
				}
				r.run(0.1)
			}
			r.run(5)
		}, verdict: Pass, value: 6, near: 0.5},
		{name: "turned without an angle", do: func(r *rig) {
			r.angle[1] = func(float64) float64 { return 1 }
			r.test()
		}, verdict: Pass, value: 6, near: 0.5},
		{name: "only turned", do: func(r *rig) { r.lift(); r.run(0.1); r.turn(1, 4.2, 5, 2) }, verdict: Pass, says: "off the sine of the turning weight by 5.9 N"},
		{name: "only turned, too noisy to tell", spoil: noisy(30), do: func(r *rig) { r.lift(); r.run(0.1); r.turn(1, 4.2, 5, 2) }, verdict: Inconclusive, says: "which can be more than noise"},
		{name: "frozen", spoil: alter(Fz, func(int, float64) float64 { return 3000 }), verdict: Inconclusive, says: "stands still", also: []string{"frozen fz"}},
		{name: "clipped", spoil: several(alter(Fz, func(int, float64) float64 { return 1e6 }), rawEnds(-20_000, 20_000)), verdict: Inconclusive, says: "at the end of its range", also: []string{"clipped fz"}},
		{name: "step too coarse to show it", spoil: rawStep(Fz, 400), verdict: Inconclusive},
		{name: "a tenth is missing", spoil: alter(Fz, func(k int, v float64) float64 {
			if k%11 == 0 {
				return math.NaN()
			}
			return v
		}), verdict: Pass, value: 6, near: 0.5, also: []string{"range fz"}},
		{name: "half is missing", spoil: alter(Fz, func(k int, v float64) float64 {
			if k%2 == 0 {
				return math.NaN()
			}
			return v
		}), verdict: Inconclusive, also: []string{"range fz"}},
		{name: "1000 Hz", spoil: several(atRate(1000), noisy(50)), verdict: Fail, value: sum(50, 6), near: 3},
		{name: "10000 Hz", spoil: several(atRate(10_000), noisy(50)), verdict: Fail, value: sum(50, 6), near: 3},
		{name: "10 Hz", spoil: several(atRate(10), noisy(50)), do: func(r *rig) { r.run(60) }, verdict: Fail, value: sum(50, 6), near: 6},
		{name: "1 Hz", spoil: several(atRate(1), noisy(50)), do: func(r *rig) { r.run(300) }, verdict: Fail, value: sum(50, 6), near: 8},
		{name: "no angle anywhere", spoil: func(r *rig) {
			r.setup.Corners[0].Channels[Angle], r.setup.Corners[1].Channels[Angle] = None, None
		}, verdict: Absent, says: "no wheel has an angle"},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}

// With white noise of exactly the limit's size 2.5 % may fail; the interval holds the truth in 95 %.
func TestNoiseUncertaintyIsHonest(t *testing.T) {
	if testing.Short() || raceDetector {
		t.Skip("hundreds of wheels stand")
	}
	const wheels = 150
	held, failed := 0, 0
	for seed := range uint64(wheels) {
		r := newRig(seed, "FL")
		r.wheels[0].noiseN = 25
		r.run(8)
		got := r.judge.Result()
		for _, q := range []string{"fx", "fy", "fz"} {
			f := find(got, "noise", "FL", q)
			if math.Abs(f.Value.Value-25) <= f.Uncertainty.Value {
				held++
			}
			if f.Verdict == Fail {
				failed++
			}
		}
	}
	// 450 of them: the share scatters by 1 % (binomial). The mean of seconds within one wheel is the same for all seeds' rigs.
	if share := float64(held) / (3 * wheels); share < 0.91 || share > 0.98 {
		t.Errorf("the interval holds the truth in %.1f %%", share*100)
	}
	if share := float64(failed) / (3 * wheels); share > 0.05 {
		t.Errorf("at the limit %.1f %% fail", share*100)
	}
}

func TestSelectMiddle(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 300; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Round(random.NormFloat64() * 3) // many are equal
		}
		sorted := slices.Sorted(slices.Values(x))
		if got := selectMiddle(x); got != sorted[n/2] {
			t.Fatalf("of %v it is %v, want %v", sorted, got, sorted[n/2])
		}
	}
}

// The middle step of normal noise tells its standard deviation as the median absolute deviation does: 0.9538725524
// is √2·Φ⁻¹(¾), and [fit.MADToSD] is 1/Φ⁻¹(¾).
func TestMiddleStep(t *testing.T) {
	if got := math.Sqrt2 / fit.MADToSD; math.Abs(got-0.9538725524) > 1e-9 {
		t.Errorf("√2·Φ⁻¹(¾) = %.10f", got)
	}
	random := rand.New(rand.NewPCG(1, 2))
	x, d := make([]float64, 100_001), make([]float64, 100_000)
	for i := range x {
		x[i] = 7 * random.NormFloat64()
	}
	for i := range d {
		d[i] = math.Abs(x[i+1] - x[i])
	}
	_, mad := fit.MAD(x)
	if got := selectMiddle(d) / 0.9538725524; math.Abs(got-7) > 0.1 || math.Abs(got-mad*fit.MADToSD) > 0.1 {
		t.Errorf("%v, want 7, and by the median absolute deviation %v", got, mad*fit.MADToSD)
	}
}

func TestSpare(t *testing.T) {
	for _, c := range []struct {
		name   string
		x      []float64
		want   []float64
		steady bool
	}{
		{"nothing", []float64{1, 2, 1, 2}, []float64{1, 2, 1, 2}, true},
		{"one", []float64{1, 2, 50, 2, 1}, []float64{1, 2, 2, 2, 1}, true},
		{"two in a row", []float64{1, 2, 50, 60, 1}, []float64{1, 2, 2, 2, 1}, true},
		{"three in a row", []float64{1, 2, 50, 60, 55, 1}, nil, false},
		{"at the end", []float64{1, 2, 50}, []float64{1, 2, 2}, true},
		{"at the beginning", []float64{50, 1, 2, 1}, nil, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := slices.Clone(c.x)
			steady := spare(got, 10)
			if steady != c.steady || c.steady && !slices.Equal(got, c.want) {
				t.Errorf("%v, steady %t; want %v, %t", got, steady, c.want, c.steady)
			}
		})
	}
}

// White noise does not wander in 10,000 seconds but once or twice; a wheel that turns by half a turn in a second does.
func TestWanders(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{16, 32, 64, 200, 1024} {
		x := make([]float64, n)
		white, turning := 0, 0
		rounds := 1_000_000 / n
		if n == 16 {
			rounds = 20_000
		}
		for range rounds {
			phase := 6.3 * random.Float64()
			var a, b fit.Welford
			y := make([]float64, n)
			for i := range x {
				x[i] = random.NormFloat64()
				y[i] = x[i]*6 + 300*math.Sin(phase+math.Pi*float64(i)/float64(n))
				a.Add(x[i])
				b.Add(y[i])
			}
			if wanders(x, a.Mean()) {
				white++
			}
			if !wanders(y, b.Mean()) {
				turning++
			}
		}
		if white*2000 > rounds || turning*10 > rounds && n > 16 {
			t.Errorf("%d samples: of %d seconds of noise %d wander, of as many turning %d do not", n, rounds, white, turning)
		}
	}
}
