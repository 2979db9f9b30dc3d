package checks

import (
	"fmt"
	"math"
	"testing"
)

const degree = math.Pi / 180

func TestAngleOffset(t *testing.T) {
	flaws := []flaw{{name: "clean", check: "angle-offset FR", value: 0, near: 0.2 * degree}}
	for _, v := range []float64{2, -2, 90, -90, 179} {
		flaws = append(flaws, flaw{
			// Transmitted minus true: an angle that is ahead is positive.
			name:  fmt.Sprintf("by %g°", v),
			spoil: func(r *rig) { r.wheels[1].delta = v * degree },
			open:  []string{"angle-offset FR fail"},
			check: "angle-offset FR", value: v * degree, near: 0.25 * degree,
			says: []string{"FR is ", "° off its force axes, more than 1.00°"},
		})
	}
	for _, c := range []struct {
		bolts, k int
		says     string
	}{
		{5, 1, "that is 1 bolt hole of 5"},
		{5, -1, "that is 1 bolt hole of 5"},
		{5, 2, "that is 2 bolt holes of 5"},
		{5, -2, "that is 2 bolt holes of 5"},
		{4, 1, "that is 1 bolt hole of 4"},
		{4, -1, "that is 1 bolt hole of 4"},
		{6, 1, "that is 1 bolt hole of 6"},
		{6, -2, "that is 2 bolt holes of 6"},
	} {
		v := float64(c.k) * 2 * math.Pi / float64(c.bolts)
		flaws = append(flaws, flaw{
			name:  fmt.Sprintf("%+d of %d holes", c.k, c.bolts),
			spoil: func(r *rig) { r.wheels[1].delta, r.setup.Corners[1].Bolts = v, c.bolts },
			open:  []string{"angle-offset FR fail"},
			check: "angle-offset FR", value: v, near: 0.25 * degree, says: []string{c.says},
		})
	}
	flaws = append(flaws,
		flaw{
			// 4 ms at 5.5 rad/s are 1.26°, forward behind and back ahead: δ₀ stays 0.
			name: "angle later than force", spoil: func(r *rig) { r.wheels[1].lateS = 0.004 },
			check: "angle-offset FR", value: 0, near: 0.2 * degree,
		},
		flaw{
			name: "late and off", spoil: func(r *rig) { r.wheels[1].lateS, r.wheels[1].delta = 0.004, 2*degree },
			open:  []string{"angle-offset FR fail"},
			check: "angle-offset FR", value: 2 * degree, near: 0.2 * degree,
		},
		flaw{
			name: "at the limit", spoil: func(r *rig) { r.wheels[1].delta = 1.05 * degree },
			open:  []string{"angle-offset FR inconclusive"},
			check: "angle-offset FR", value: 1 * degree, near: 0.2 * degree, says: []string{"too close to the limit of 1.00° to decide"},
		},
		flaw{
			// One count of 256 is 1.4°.
			name: "coarse encoder", spoil: func(r *rig) { r.setup.Corners[1].AngleCounts, r.wheels[1].counts = 256, 256 },
			open:  []string{"angle-offset FR inconclusive"},
			check: "angle-offset FR", value: 0, near: 1.41 * degree, says: []string{"an encoder of 256 counts cannot show less than the limit of 1.00°"},
		},
	)
	judgeFlaws(t, flaws)
}

func TestAngleOffsetBounds(t *testing.T) {
	for _, c := range []struct {
		delta float64
		bolts int
		want  int
	}{
		{72, 5, 1},
		{-72, 5, -1},
		{144, 5, 2},
		{-144, 5, -2},
		{76.9, 5, 1},
		{77.1, 5, 0},
		{66.9, 5, 0},
		{2, 5, 0},
		{90, 4, 1},
		{180, 4, 2},
		{60, 6, 1},
		{180, 6, 3},
		{72, 0, 0},
		{72, 1, 0},
		{180, 2, 1},
	} {
		t.Run(fmt.Sprintf("%g° of %d", c.delta, c.bolts), func(t *testing.T) {
			got, ok := boltHoles(c.delta*degree, c.bolts)
			if got != c.want || ok != (c.want != 0) {
				t.Errorf("boltHoles = %d, %v, want %d", got, ok, c.want)
			}
		})
	}
}

// Turned one way only, a delay looks like an offset: what one of 20 ms explains is no fail.
func TestAngleOffsetOneWay(t *testing.T) {
	for _, c := range []struct {
		name         string
		lateS, delta float64
		omega        float64
		want         Verdict
	}{
		{"nothing wrong", 0, 0, 5, Pass},
		{"late, forward", 0.006, 0, 5, Inconclusive}, // 1.7°
		{"late, back", 0.006, 0, -5, Inconclusive},
		{"off by less than a delay can be", 0, 5 * degree, 5, Inconclusive},
		{"off by more", 0, 8 * degree, 5, Fail}, // 20 ms at 5 rad/s are 5.7°
		{"bolt hole", 0, 72 * degree, 5, Fail},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(4, "FL", "FR")
			r.wheels[1].lateS, r.wheels[1].delta = c.lateS, c.delta
			r.run(5)
			r.lift()
			r.run(1)
			r.turn(1, 5, c.omega, 2)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			if f := find(got, "angle-offset", "FR", ""); f.Verdict != c.want {
				t.Errorf("%s, want %s: %s", f.Verdict, c.want, f.Sentence)
			}
		})
	}
}
