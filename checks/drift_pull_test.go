package checks

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// An interval of 95 % holds the truth in 95 of 100 drives: the zero of my moves after the first standstills, while brakes are held on
// slopes and the radial axes have what is left of a zero and ε. Of 400 drives the share scatters by 1.1 % (binomial).
func TestDriftOfMyIsHonest(t *testing.T) {
	if testing.Short() || raceDetector {
		t.Skip("hundreds of drives are driven")
	}
	const drives = 400
	for _, c := range []struct {
		name   string
		stops  int
		pullN  float64 // RMS of the pull of a held brake
		errors float64 // 1: zero of 15 N and ε of 0.002, RMS
		frame  ForceFrame
		most   float64 // N·m, of the uncertainty
	}{
		{"an axis without errors", 22, 0, 0, Rotating, 3},
		{"held on slopes, few stops", 11, 300, 1, Rotating, 6},
		{"held on slopes, many stops", 42, 300, 1, Rotating, 3},
		{"held on slopes, fixed axes", 42, 300, 1, Fixed, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			held, wide := 0, 0.0
			for seed := range uint64(drives) {
				y := newYard(seed, "FL")
				if c.frame == Fixed {
					y.resolved()
				}
				y.rateHz, y.bars, y.setup.Optics = 25, nil, y.setup.Optics[1:]
				y.setup.Corners[0].Channels[Mx], y.setup.Corners[0].Channels[Mz] = None, None
				w := y.wheels[0]
				z := func() float64 { return c.errors * y.random.NormFloat64() }
				w.zero[Fx], w.zero[Fz] = 15*z(), 15*z()
				w.epsilon = complex(0.002*z(), 0.002*z())
				moves := 40 * (y.random.Float64() - 0.5)
				for k := range c.stops {
					if k == standsBase+1 { // the first one is before any roll
						w.zero[My] += moves
					}
					w.fx = c.pullN * y.random.NormFloat64()
					w.my = -w.fx * yardRadiusM
					y.stand(2.8)
					w.fx, w.my = 0, 0
					y.roll(1+0.5*y.random.Float64(), 2.5, 0)
				}
				f := find(y.judge.Result(), "drift", "FL", "my")
				if !f.Uncertainty.Known {
					t.Fatalf("seed %d: %s: %s", seed, f.Verdict, f.Sentence)
				}
				wide += f.Uncertainty.Value / drives
				if math.Abs(f.Value.Value-moves) <= f.Uncertainty.Value {
					held++
				}
			}
			share := float64(held) / drives
			text := fmt.Sprintf("the interval holds the truth in %.1f %%; ± %.1f N·m on average", share*100, wide)
			t.Log(text)
			if share < 0.925 || wide > c.most {
				t.Error(text)
			}
		})
	}
}

func TestPulled(t *testing.T) {
	const last = 39 // 35 … 39 are the last window
	for _, c := range []struct {
		name  string
		theta func(k float64) float64
		my    func(k float64) float64
		count float64 // N·m
		want  float64 // of the newest window against the first
		least float64 // of the uncertainty
		most  float64
	}{
		{"nothing", func(k float64) float64 { return 2.3 * k }, func(float64) float64 { return 4 }, 0, 0, 0, 0.3},
		{"errors that turn", func(k float64) float64 { return 2.3 * k }, func(k float64) float64 { return 8*math.Cos(4.6*k) + 3*math.Sin(2.3*k) }, 0, 0, 0, 0.3},
		{"errors that turn, and a drift", func(k float64) float64 { return 2.3 * k }, func(k float64) float64 { return 8*math.Cos(4.6*k) + 0.5*k }, 0, 17.5, 0, 0.5},
		{"a drift while it comes to rest ever farther round", func(k float64) float64 { return 0.02 * k }, func(k float64) float64 { return 0.5 * k }, 0, 17.5, 0, 2},
		{"always at one angle", func(float64) float64 { return 1 }, func(k float64) float64 { return 0.5 * k }, 0, 17.5, 0, 2},
		{"the encoder's count", func(k float64) float64 { return 2.3 * k }, func(float64) float64 { return 4 }, 2, 0, 2.4, 3.2},
	} {
		random := rand.New(rand.NewPCG(1, 2))
		p := pulled{trend: trend{base: standsBase, window: standsWindow, limit: 1e9}}
		for k := range last + 1 {
			x := float64(k)
			p.add(c.my(x)+0.1*random.NormFloat64(), c.theta(x), c.count, int64(k), int64(k))
		}
		if p.Windows != 7 || math.Abs(p.Now-c.want) > p.NowU || p.NowU < c.least || p.NowU > c.most {
			t.Errorf("%s: %d windows, %.2f ± %.2f; want 7, %.2f, ± %.2f to %.2f", c.name, p.Windows, p.Now, p.NowU, c.want, c.least, c.most)
		}
	}
}
