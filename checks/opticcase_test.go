package checks

import (
	"math"
	"slices"
	"testing"
)

// opticCase is one state of an optical sensor or a roll, and what a check must say of it.
type opticCase struct {
	name  string
	do    func(*yard)
	want  Verdict
	value float64 // NaN: none
	near  float64 // 0: 0.0005
	says  []string
	next  string
	// also fails by the same doing.
	also []string
}

// judgeOptics shows each case to a Judge and looks at one finding.
func judgeOptics(t *testing.T, check, subject, channel string, cases []opticCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(11, "FL", "FR", "RL", "RR")
			c.do(y)
			c.judge(t, y, check, subject, channel)
		})
	}
}

func (c *opticCase) judge(t *testing.T, y *yard, check, subject, channel string) {
	t.Helper()
	r := y.judged(t)
	f := find(r, check, subject, channel)
	near := c.near
	if near == 0 {
		near = 0.0005
	}
	if f.Verdict != c.want {
		t.Errorf("%s, want %s: %v ± %v against %v: %s", f.Verdict, c.want, f.Value, f.Uncertainty, f.Limit, f.Sentence)
	}
	if f.Value.Known == math.IsNaN(c.value) || f.Value.Known && math.Abs(f.Value.Value-c.value) > near {
		t.Errorf("value %+v, want %v within %v: %s", f.Value, c.value, near, f.Sentence)
	}
	for _, part := range c.says {
		if !contains(f.Sentence, part) {
			t.Errorf("says %q, want %q in it", f.Sentence, part)
		}
	}
	if !contains(f.Next, c.next) {
		t.Errorf("next %q, want %q in it", f.Next, c.next)
	}
	// What is wrong with one thing fails no other.
	for _, other := range only(r, "clearance", "camber", "dropout", "rest-speed", "slip", "radius", "agreement", "placement", "angle-sense") {
		if other[len(other)-4:] == "fail" && !slices.Contains(append(c.also, check+" "+subject+" fail", check+" "+subject+" "+channel+" fail"), other) {
			t.Errorf("beside it: %s", other)
		}
	}
}

// invalid makes the first bar, or the ground speed sensor, send a value that is none for one quantity.
func (y *yard) invalid(q Quantity, v float64) {
	y.spoil = func(corner int, have Quantity, value float64) float64 {
		if corner < 0 && have == q {
			return v
		}
		return value
	}
}

// some does so for one value in n.
func (y *yard) some(q Quantity, n int, v float64) {
	k := 0
	y.spoil = func(corner int, have Quantity, value float64) float64 {
		if corner < 0 && have == q {
			if k++; k%n == 0 {
				return v
			}
		}
		return value
	}
}
