package checks

import (
	"fmt"
	"math"
	"testing"
)

// An interval of 95 % holds the truth in 95 of 100 wheels: 1,000 wheels with noise of their own
// are weighed, and those whose interval misses are counted. With 1,000 wheels the share scatters
// by 0.7 % (binomial), so 93 % to 97 % is three of that to either side.
func TestUncertaintyIsHonest(t *testing.T) {
	if testing.Short() || raceDetector {
		t.Skip("thousands of wheels are turned")
	}
	const wheels = 1000
	for _, c := range []struct {
		name    string
		tauS    float64
		noiseN  float64
		counts  int
		stepN   float64
		turns   float64 // each way
		atMost1 bool    // scatter rules: the share must not be too large either
		frame   ForceFrame
	}{
		{"white noise", 0, 6, 65536, 0.01, 5.3, true, Rotating},
		{"white noise, three turns", 0, 6, 65536, 0.01, 2.2, true, Rotating},
		{"correlated noise", 0.05, 6, 65536, 0.01, 5.3, true, Rotating},
		{"correlated noise, fixed axes", 0.05, 6, 65536, 0.01, 5.3, true, Fixed},
		{"coarse encoder", 0, 1, 360, 0.01, 5.3, false, Rotating},
		{"coarse raw step", 0, 0.05, 65536, 20, 5.3, false, Rotating},
		{"both coarse, correlated", 0.05, 2, 512, 10, 5.3, false, Rotating},
	} {
		t.Run(c.name, func(t *testing.T) {
			held := map[string]int{}
			for seed := range uint64(wheels) {
				r := newRig(seed, "FL")
				corner := &r.setup.Corners[0]
				corner.Forces, corner.AngleCounts = c.frame, c.counts
				for q, ch := range corner.Channels {
					if ch != None && Quantity(q) <= Fz {
						r.setup.Channels[ch].Step = c.stepN
					}
				}
				corner.Channels[Fy], corner.Channels[Mx], corner.Channels[My], corner.Channels[Mz], corner.Channels[Serial] = None, None, None, None, None
				w := r.wheels[0]
				w.noiseN, w.tauS, w.counts = c.noiseN, c.tauS, c.counts
				w.zero[Fx], w.zero[Fz] = 60*(r.random.Float64()-0.5), 60*(r.random.Float64()-0.5)
				w.delta = (r.random.Float64() - 0.5) * 0.02
				r.lift()
				r.run(0.3)
				omega := 5 + r.random.Float64()
				r.turn(0, c.turns, omega, 2)
				r.turn(0, c.turns, -omega*0.9, 2)
				got := r.judge.Result()
				for _, x := range []struct {
					check, channel string
					truth          float64
				}{{"zero", "fx", w.zero[Fx]}, {"zero", "fz", w.zero[Fz]}, {"angle-offset", "", w.delta}} {
					f := find(got, x.check, "FL", x.channel)
					if !f.Uncertainty.Known {
						t.Fatalf("seed %d: %s %s: %s: %s", seed, x.check, x.channel, f.Verdict, f.Sentence)
					}
					if math.Abs(f.Value.Value-x.truth) <= f.Uncertainty.Value {
						held[x.check+" "+x.channel]++
					}
				}
			}
			for _, name := range []string{"zero fx", "zero fz", "angle-offset "} {
				share := float64(held[name]) / wheels
				text := fmt.Sprintf("%s: the interval holds the truth in %.1f %%", name, share*100)
				t.Log(text)
				if share < 0.93 || c.atMost1 && share > 0.97 {
					t.Error(text)
				}
			}
		})
	}
}
