package daemon

import (
	"testing"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon/setup"
)

// simulatedBench returns a bench for a simulated vehicle.
func simulatedBench(tb testing.TB, c *simulated.Config) *Bench {
	tb.Helper()
	s, err := setup.Parse("simulated.yaml", []byte(c.SetupYAML()), c.ReadFile)
	if err != nil {
		tb.Fatal(err)
	}
	b, err := NewBench(s, "plumbline (test)")
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// judgeSimulated judges a simulated vehicle; grid may be nil.
func judgeSimulated(tb testing.TB, c simulated.Config, grid func(j *Judge, at int64)) *Judge {
	tb.Helper()
	plain := c
	plain.Faults = nil
	j := simulatedBench(tb, &plain).Judge("simulated")
	if grid != nil {
		j.Grid = func(at int64) { grid(j, at) }
	}
	src, err := simulated.New(c)
	if err != nil {
		tb.Fatal(err)
	}
	if err := j.Run(tb.Context(), src); err != nil {
		tb.Fatal(err)
	}
	return j
}

// lookS is how long it takes at the most until a check is judged anew, s.
func lookS(check string) int64 {
	switch check {
	case "radius", "agreement", "slip", "coupling", "angle-spin":
		return 60
	case "noise", "hum", "clearance", "camber", "dropout", "rest-speed":
		return 30
	}
	return 5
}

// TestFollowMissesNothing holds what is followed at next to no cost against all checks judged each second: whatever fails
// for longer than a look takes is found within one, and nothing is said to have failed that did not.
func TestFollowMissesNothing(t *testing.T) {
	kinds := simulated.Kinds()
	if testing.Short() {
		kinds = kinds[:8]
	}
	for _, kind := range append(kinds, simulated.Kind{Name: "clean"}) {
		t.Run(kind.Name, func(t *testing.T) {
			t.Parallel()
			c := simulated.Standard(2)
			c.RateHz = 50
			c.Script = append(c.FunctionShort(), simulated.Road(2)...)
			switch kind.Subject {
			case simulated.TwoCorners:
				c.Faults = []simulated.Fault{{Kind: kind.Name, Corner: "FL,FR", Value: kind.Default}}
			case simulated.OneRoad, simulated.OneBus:
				c.Faults = []simulated.Fault{{Kind: kind.Name, Value: kind.Default}}
			case "":
			default:
				c.Faults = []simulated.Fault{{Kind: kind.Name, Corner: "FL", Value: kind.Default}}
			}
			type seen struct{ first, until int64 } // of the first stretch of failing
			stretches := map[string]*seen{}
			const second = int64(1e9)
			j := judgeSimulated(t, c, func(j *Judge, at int64) {
				if at%second != 0 {
					return
				}
				r := j.Result()
				for i := range r.Findings {
					f := &r.Findings[i]
					if f.Verdict != checks.Fail {
						continue
					}
					s := stretches[f.Name()]
					switch {
					case s == nil:
						stretches[f.Name()] = &seen{at, at}
					case s.until == at-second:
						s.until = at
					}
				}
			})
			r := j.Result()
			for i := range r.Findings {
				f := &r.Findings[i]
				bound := lookS(f.Check) * second
				s := stretches[f.Name()]
				switch {
				case s == nil && f.Failed != nil && f.Verdict != checks.Fail:
					t.Errorf("%s is said to have failed, which it never did: %+v", f.Name(), f.Failed)
				case s != nil && s.until-s.first > bound && (f.Failed == nil || int64(f.Failed.First) < s.first || int64(f.Failed.First) > s.first+bound):
					t.Errorf("%s failed from %v to %v, but said is %+v", f.Name(), Instant(s.first), Instant(s.until), f.Failed)
				case f.Verdict == checks.Fail && f.Failed == nil:
					t.Errorf("%s fails and is said never to have", f.Name())
				case f.Verdict != checks.Fail && f.Failed != nil && f.Failed.Now:
					t.Errorf("%s is %v and is said to fail now", f.Name(), f.Verdict)
				}
			}
		})
	}
}
