package checks

import (
	"fmt"
	"math"
	"testing"
)

func TestAngleJumps(t *testing.T) {
	// One sample of one turn is off by so much.
	glitch := func(rad float64) func(*rig) {
		return func(r *rig) {
			n := 0
			r.spoil = func(corner int, q Quantity, v float64) float64 {
				if corner != 1 || q != Angle {
					return v
				}
				if n++; n == int(13.5*r.rateHz) {
					return math.Mod(v+rad+2*math.Pi, 2*math.Pi)
				}
				return v
			}
		}
	}
	flaws := []flaw{{name: "clean", check: "angle-jumps FR", value: 0, near: 0.3 * degree}}
	for _, v := range []float64{6, -6, 20, -20} {
		flaws = append(flaws, flaw{
			name: fmt.Sprintf("by %g°", v), spoil: glitch(v * degree), frame: []ForceFrame{Rotating},
			open: []string{"angle-jumps FR fail"}, check: "angle-jumps FR", value: math.Abs(v) * degree, near: 0.5 * degree,
		})
	}
	flaws = append(flaws,
		flaw{name: "half the limit", spoil: glitch(1.5 * degree), frame: []ForceFrame{Rotating}},
		flaw{
			// Ten counts of 360 are 10°.
			name: "less than ten counts", frame: []ForceFrame{Rotating},
			spoil: func(r *rig) {
				r.setup.Corners[1].AngleCounts, r.wheels[1].counts = 360, 360
				r.setup.Limits.AngleOffsetRad = 3 * degree
				glitch(8 * degree)(r)
			},
		},
		flaw{
			// Ten frames in a row are lost, now and then: no jump.
			name: "lost frames",
			spoil: func(r *rig) {
				n := 0
				r.setup.Limits.FramesLostRatio = 0.5
				r.drop = func(int) bool { n++; return n/40%20 == 7 }
			},
			check: "angle-jumps FR", value: 0, near: 3 * degree,
		},
	)
	judgeFlaws(t, flaws)
}

// step3 by hand: 1° per 5 ms, and one step that differs.
func TestJumpStep(t *testing.T) {
	const ms = 1e6
	for _, c := range []struct {
		name  string
		steps []float64 // °
		count int64
		far   float64 // °
	}{
		{"even", []float64{1, 1, 1, 1, 1}, 0, 0},
		{"speeding up", []float64{1, 1.2, 1.4, 1.6, 1.8}, 0, 0},
		{"step and stay", []float64{1, 1, 11, 1, 1}, 1, 10},
		{"step back and stay", []float64{1, 1, -9, 1, 1}, 1, 10},
		{"out and back", []float64{1, 1, 11, -9, 1, 1}, 2, 10},
		{"new speed", []float64{1, 1, 5, 5, 5}, 0, 0},
		{"half a turn", []float64{1, 1, 180, 1, 1}, 1, 179},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := Encoder{count: 2 * math.Pi / rigCounts, limit: 3 * degree}
			theta := 0.0
			e.add(0, 0)
			for i, d := range c.steps {
				theta += d * degree
				e.add(int64(i+1)*5*ms, math.Mod(theta+2*math.Pi, 2*math.Pi))
			}
			if e.jump.Count != c.count || math.Abs(e.jump.Largest/degree-c.far) > 0.6 {
				t.Errorf("%d jumps, the largest %.2f°, want %d of %g°", e.jump.Count, e.jump.Largest/degree, c.count, c.far)
			}
		})
	}
}

// A wheel that turns evenly, 50 rad/s and 200 samples a second, over a line that stamps them when it delivers them.
func TestJumpsOfStampsThatScatter(t *testing.T) {
	const ms = int64(1e6)
	late := [...]int64{0, 3, 1, 4, 2, 0, 4, 1} // ms
	for _, c := range []struct {
		name  string
		stamp func(i int) int64 // of sample i, sent at 5·i ms
		leap  float64           // rad, of sample 500 and those after it
		count int64
	}{
		{"exact", func(i int) int64 { return 5 * ms * int64(i) }, 0, 0},
		{"late by up to 4 ms", func(i int) int64 { return 5*ms*int64(i) + late[i%len(late)]*ms }, 0, 0},
		{"in bursts of three to five", func(i int) int64 { return ms * 16 * ((5*int64(i) + 15) / 16) }, 0, 0},
		{"exact, and it jumps", func(i int) int64 { return 5 * ms * int64(i) }, 0.3, 1},
		{"late, and it jumps", func(i int) int64 { return 5*ms*int64(i) + late[i%len(late)]*ms }, 0.3, 1},
		// What the wheel turns between two bursts hides a smaller one.
		{"in bursts, and it jumps", func(i int) int64 { return ms * 16 * ((5*int64(i) + 15) / 16) }, 1, 1},
		{"a frame of three is lost", func(i int) int64 { return 5 * ms * int64(i+i/2) }, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := Encoder{limit: 3 * degree}
			for i := range 1000 {
				theta := 50 * 0.005 * float64(i)
				if c.name == "a frame of three is lost" {
					theta = 50 * 0.005 * float64(i+i/2)
				}
				if i >= 500 {
					theta += c.leap
				}
				e.add(c.stamp(i), math.Mod(theta, 2*math.Pi))
			}
			if e.jump.Count != c.count {
				t.Errorf("%d jumps, the largest %.2f°, want %d", e.jump.Count, e.jump.Largest/degree, c.count)
			}
		})
	}
}
