package checks

import (
	"math"
	"slices"
	"testing"
)

// signalCase is one row of evidence for the checks of signals: what is wrong with FR, and what
// one check must say of it.
type signalCase struct {
	name    string
	spoil   func(*rig) // before the Judge is made
	do      func(*rig) // instead of ten seconds at rest
	channel string     // of FR; "-": empty
	verdict Verdict
	value   float64 // judged where near > 0
	near    float64
	says    string
	also    []string // other findings of signals that fail: "check channel"
}

// signalChecks are those that single channels are judged by.
func signalChecks() []string {
	return []string{"identity", "frozen", "clipped", "range", "noise", "spikes", "hum", "status", "supply", "temperature"}
}

// judgeSignals shows each case to a Judge. No signal check may fail but the one that is looked at, and those named.
func judgeSignals(t *testing.T, check string, cases []signalCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(11, "FL", "FR")
			if c.spoil != nil {
				c.spoil(r)
			}
			if c.do != nil {
				c.do(r)
			} else {
				r.run(10)
			}
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			channel := c.channel
			switch channel {
			case "":
				channel = "fz"
			case "-":
				channel = ""
			}
			f := find(got, check, "FR", channel)
			if f.Verdict != c.verdict || !contains(f.Sentence, c.says) {
				t.Errorf("%s: %q, want %s with %q", f.Verdict, f.Sentence, c.verdict, c.says)
			}
			if c.near > 0 && (!f.Value.Known || math.Abs(f.Value.Value-c.value) > c.near) {
				t.Errorf("value %+v, want %v within %v", f.Value, c.value, c.near)
			}
			for _, o := range got.Findings {
				same := o.Check == check && o.Subject == "FR" && o.Channel == channel
				if o.Verdict == Fail && !same && slices.Contains(signalChecks(), o.Check) && (o.Subject != "FR" || !slices.Contains(c.also, o.Check+" "+o.Channel)) {
					t.Errorf("false alarm: %s %s %s: %s", o.Check, o.Subject, o.Channel, o.Sentence)
				}
			}
		})
	}
}

// alter changes one component of FR; k counts its samples from 0.
func alter(q Quantity, change func(k int, v float64) float64) func(*rig) {
	return func(r *rig) {
		k := -1
		r.spoil = func(corner int, o Quantity, v float64) float64 {
			if corner != 1 || o != q {
				return v
			}
			k++
			return change(k, v)
		}
	}
}

// several applies several changes to a rig.
func several(changes ...func(*rig)) func(*rig) {
	return func(r *rig) {
		for _, c := range changes {
			c(r)
		}
	}
}

// atRate sets the rate and the period that is described.
func atRate(rate float64) func(*rig) {
	return func(r *rig) {
		r.rateHz = rate
		for i := range r.setup.Messages {
			r.setup.Messages[i].Period = 1 / rate
		}
		r.stagger = int64(1e9 / rate / 10)
	}
}

// rawStep sets the raw step of one component of FR.
func rawStep(q Quantity, size float64) func(*rig) {
	return func(r *rig) { r.setup.Channels[r.setup.Corners[1].Channels[q]].Step = size }
}

// rawEnds marks the samples of FR at the ends of the range as a decoder does, and lets nothing go beyond.
func rawEnds(low, high float64) func(*rig) {
	return func(r *rig) {
		for _, ch := range r.setup.Corners[1].Channels[:components] {
			r.setup.Channels[ch].Low, r.setup.Channels[ch].High = low, high
		}
		r.start()
		r.send = func(at int64, message int, samples []Sample) {
			for i := range samples {
				s := &samples[i]
				if x := &r.setup.Channels[s.Channel]; x.Quantity < components && slices.Contains(r.setup.Corners[1].Channels[:components], s.Channel) {
					if s.Value <= low {
						s.Value, s.State = low, AtLow
					} else if s.Value >= high {
						s.Value, s.State = high, AtHigh
					}
				}
			}
			r.judge.Message(at, message, 8, false, samples)
		}
	}
}

// A clean vehicle passes all of them at every rate that can tell, and whatever is done with it.
func TestSignalsClean(t *testing.T) {
	tests := map[string]func(*rig){
		"function test": func(r *rig) { r.test() },
		"fixed axes":    func(r *rig) { r.resolved(); r.test() },
		"1000 Hz":       func(r *rig) { atRate(1000)(r); r.test() },
		"10000 Hz":      func(r *rig) { atRate(10_000)(r); r.run(8) },
		"driven": func(r *rig) {
			r.run(8)
			for range 30 {
				for _, w := range r.wheels {
					w.omega += 1.5
				}
				r.run(0.5)
			}
			for _, w := range r.wheels {
				w.omega = 0
			}
			r.run(3)
		},
		"correlated noise": func(r *rig) {
			for _, w := range r.wheels {
				w.tauS, w.noiseN = 0.2, 8
			}
			r.test()
		},
		"half of the frames lost": func(r *rig) { r.drop = func(int) bool { return r.random.IntN(2) == 0 }; r.test() },
		"gaps": func(r *rig) {
			start := r.at
			r.drop = func(m int) bool { return m == 2 && (r.at-start)/1e8%20 == 7 }
			r.test()
		},
		"angle stands still": func(r *rig) { r.angle[1] = func(float64) float64 { return 1 }; r.test() },
		"angle cable dead":   func(r *rig) { r.drop = func(m int) bool { return m == 3 }; r.test() },
		"angles exchanged":   func(r *rig) { exchange(r.angleFrom, 0, 1); r.test() },
		"coarse steps": func(r *rig) {
			for _, q := range []Quantity{Fx, Fy, Fz} {
				rawStep(q, 5)(r)
			}
			r.test()
		},
		"clock steps back": func(r *rig) { r.test(); r.at -= 3600e9; r.test() },
	}
	for name, do := range tests {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(5) {
				r := newRig(seed, "FL", "FR")
				do(r)
				got := r.judge.Result()
				keepsRules(t, &r.setup, got)
				for _, f := range got.Findings {
					if slices.Contains(signalChecks(), f.Check) && f.Verdict != Pass && f.Verdict != Absent && (name != "angle cable dead" || f.Check != "identity") {
						t.Errorf("seed %d: %s %s %s: %s: %s", seed, f.Check, f.Subject, f.Channel, f.Verdict, f.Sentence)
					}
				}
			}
		})
	}
}

// Six months of silence, one sample a second, everything at one time: a reason, and no alarm.
func TestSignalsOfLittleUse(t *testing.T) {
	for name, do := range map[string]func(*rig){
		"one a second": func(r *rig) { atRate(1)(r); r.run(90) },
		"nothing":      func(r *rig) { r.start() },
		"one frame":    func(r *rig) { r.run(0.005) },
		"six months":   func(r *rig) { r.run(10); r.at += 182 * 86400e9; r.run(10) },
		"all at one time": func(r *rig) {
			r.run(1)
			at := r.at
			r.send = func(_ int64, m int, s []Sample) { r.judge.Message(at, m, 8, false, s) }
			r.run(9)
		},
		"tiny": func(r *rig) { r.spoil = func(_ int, _ Quantity, v float64) float64 { return v * 1e-300 }; r.run(10) },
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(3, "FL", "FR")
			do(r)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			for _, f := range got.Findings {
				if slices.Contains(signalChecks(), f.Check) && f.Verdict == Fail && name != "tiny" {
					t.Errorf("%s %s %s: %s", f.Check, f.Subject, f.Channel, f.Sentence)
				}
			}
		})
	}
}

func TestSignalJumps(t *testing.T) {
	for _, c := range []struct {
		name   string
		values []float64
		spikes int64
	}{
		{"one", []float64{1, 2, 900, 1, 2, 1}, 1},
		{"down", []float64{1, 2, -900, 1, 2, 1}, 1},
		{"two samples", []float64{1, 2, 900, 880, 2, 1}, 1},
		{"two equal samples", []float64{1, 2, 900, 900, 2, 1}, 1},
		{"three samples", []float64{1, 2, 900, 880, 890, 1, 2}, 0},
		{"three equal samples", []float64{1, 2, 900, 900, 900, 1, 2}, 0},
		{"a step", []float64{1, 2, 900, 901, 902, 900, 901, 903}, 0},
		{"a step and a spike", []float64{1, 2, 900, 901, 902, 900, 1, 903, 902}, 1},
		{"comes back half", []float64{1, 2, 900, 300, 301, 302, 300}, 0},
		{"next to the limit", []float64{0, 100, 0, 100, 0}, 0},
		{"above the limit", []float64{0, 101, 0, 1, 0}, 1},
		{"two of them", []float64{1, 900, 1, 2, 1, -900, 3, 1}, 2},
		{"at the end", []float64{1, 2, 1, 900}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSignal(&Channel{Step: 1}, &Corner{}, Fz)
			s.learn(0, 100)
			s.watch(1, true)
			before := 0.0
			feed := func(i int, v float64) {
				if v != before {
					if math.Abs(v-before) > s.jump {
						s.jumped(int64(i), before, v)
					}
					if s.same != 0 {
						s.endRun(0, int64(i), before)
					}
				} else {
					s.same++
				}
				before = v
			}
			feed(0, 0.5) // the first step is not judged
			for i, v := range c.values {
				feed(i+1, v)
			}
			if s.Spikes != c.spikes {
				t.Errorf("%d spikes, want %d", s.Spikes, c.spikes)
			}
		})
	}
}

// A whole second at rest that is looked at allocates nothing either.
func TestNothingIsAllocatedPerSecond(t *testing.T) {
	r := newRig(1, "FL", "FR")
	r.run(3)
	before := r.judge.corners[0].blocks[0].Taken
	got := testing.AllocsPerRun(5, func() { r.run(1) })
	if got != 0 || r.judge.corners[0].blocks[0].Taken < before+3 {
		t.Errorf("%v allocations a second, %d seconds looked at; want 0 and more than %d", got, r.judge.corners[0].blocks[0].Taken, before)
	}
}
