package checks

import (
	"math"
	"testing"
)

func TestAngleSteps(t *testing.T) {
	const count = 2 * math.Pi / rigCounts
	fails := []string{"angle-steps FR fail"}
	judgeFlaws(t, []flaw{
		{name: "clean", check: "angle-steps FR", value: count, near: 1e-6, says: []string{"in steps of 1/2048"}},
		// 2048/1024 = 2 counts a step.
		{
			name: "half the counts", spoil: func(r *rig) { r.wheels[1].counts = 1024 },
			open: fails, check: "angle-steps FR", value: 2 * count, near: 1e-6, says: []string{"steps by 2 counts of its 2048"},
		},
		{
			name: "a quarter of the counts", spoil: func(r *rig) { r.wheels[1].counts = 512 },
			open: fails, check: "angle-steps FR", value: 4 * count, near: 1e-6,
		},
		{name: "other counts", spoil: func(r *rig) { r.wheels[1].counts = 2000 }, open: fails},
		{
			name: "finer than stated", spoil: func(r *rig) { r.wheels[1].counts = 4096 },
			open: fails,
		},
		{name: "counts not known", spoil: func(r *rig) { r.setup.Corners[1].AngleCounts = 0 }},
		{
			name: "sent too coarsely to see", spoil: func(r *rig) {
				r.setup.Channels[r.setup.Corners[1].Channels[Angle]].Step = 2 * math.Pi / 1000
				r.wheels[1].counts = 1000
			},
		},
	})
}

// An encoder by itself, fed one angle every 5 ms.
func TestAngleStepsRange(t *testing.T) {
	for _, c := range []struct {
		name string
		of   func(theta float64) float64
		want Verdict
		says string
	}{
		{"one turn", func(a float64) float64 { return math.Mod(a, 2*math.Pi) }, Pass, "in steps of 1/2048"},
		{"minus half to half", func(a float64) float64 { return math.Mod(a, 2*math.Pi) - math.Pi }, Pass, "in steps of 1/2048"},
		{"does not wrap", func(a float64) float64 { return a }, Fail, "instead of wrapping after 360°"},
		{"wraps after half a turn", func(a float64) float64 { return math.Mod(a, math.Pi) }, Fail, "of a turn"},
		{"degrees taken for radians", func(a float64) float64 { return math.Mod(a, 2*math.Pi) * 180 / math.Pi }, Fail, "instead of wrapping after 360°"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(1, "FL")
			r.start()
			j := r.judge
			const count = 2 * math.Pi / rigCounts
			for k := range 3 * 500 {
				at := int64(k) * 5e6
				theta := math.Floor(float64(k)*2*math.Pi/500/count) * count
				j.Message(at, 1, 8, false, []Sample{{Channel: r.setup.Corners[0].Channels[Angle], Value: c.of(theta)}})
			}
			got := j.Result()
			keepsRules(t, &r.setup, got)
			f := find(got, "angle-steps", "FL", "")
			if f.Verdict != c.want || !contains(f.Sentence, c.says) {
				t.Errorf("%s: %q, want %s with %q", f.Verdict, f.Sentence, c.want, c.says)
			}
		})
	}
}
