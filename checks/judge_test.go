package checks

import (
	"math"
	"slices"
	"testing"
)

func TestCleanVehiclePasses(t *testing.T) {
	r := newRig(1, "FL", "FR", "RL", "RR")
	r.test()
	got := r.judge.Result()
	if got.Verdict != Pass {
		for _, f := range got.Findings {
			if f.Verdict != Pass {
				t.Errorf("%s %s %s: %s: %s", f.Check, f.Subject, f.Channel, f.Verdict, f.Sentence)
			}
		}
	}
	if got.Next != "" {
		t.Errorf("next = %q, want nothing to do", got.Next)
	}
}

func BenchmarkJudge(b *testing.B) {
	for _, phase := range []string{"rest", "turning", "rolling"} {
		b.Run(phase, func(b *testing.B) {
			r := newRig(1, "FL", "FR", "RL", "RR")
			r.run(5)
			switch phase {
			case "turning":
				r.lift()
				r.wheels[0].omega = 4
			case "rolling":
				for _, w := range r.wheels {
					w.omega = 40
				}
			}
			r.run(1)
			// One second of messages, again and again, each time a second later.
			var second []recorded
			from := r.at
			r.send = func(at int64, message int, samples []Sample) {
				second = append(second, recorded{at - from, message, slices.Clone(samples)})
			}
			r.run(1)
			b.ReportAllocs()
			i, base := 0, r.at
			for b.Loop() {
				m := &second[i]
				r.judge.Message(base+m.after, m.message, 8, false, m.samples)
				if i++; i == len(second) {
					i, base = 0, base+1e9
				}
			}
		})
	}
}

type recorded struct {
	after   int64 // ns
	message int
	samples []Sample
}

func BenchmarkResult(b *testing.B) {
	r := newRig(1, "A", "B", "C", "D", "E", "F", "G", "H")
	r.test()
	b.ReportAllocs()
	for b.Loop() {
		if r.judge.Result().Verdict != Pass {
			b.Fatal("not a pass")
		}
	}
}

func TestNothingIsAllocatedPerMessage(t *testing.T) {
	r := newRig(1, "FL", "FR")
	r.test()
	c := &r.setup.Corners[0]
	row := []Sample{{Channel: c.Channels[Fx], Value: 100}, {Channel: c.Channels[Fz], Value: 200}}
	angle := []Sample{{Channel: c.Channels[Angle]}}
	theta := 0.0
	got := testing.AllocsPerRun(1000, func() {
		r.at += 5e6
		theta = math.Mod(theta+0.02, 6.28)
		for i := range row {
			row[i].Value += 0.1
		}
		angle[0].Value = theta
		r.judge.Message(r.at, 0, 8, false, row)
		r.judge.Message(r.at, 1, 8, false, angle)
	})
	if got != 0 {
		t.Errorf("allocations per message = %v, want 0", got)
	}
}
