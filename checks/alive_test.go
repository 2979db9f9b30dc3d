package checks

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestAlive(t *testing.T) {
	lose := func(share float64) func(*rig) {
		return func(r *rig) {
			random := rand.New(rand.NewPCG(5, 5))
			r.drop = func(message int) bool { return message == 2 && random.Float64() < share }
		}
	}
	missing := func(from, to float64) func(*rig) { // s after the start
		return func(r *rig) {
			start := r.at
			r.drop = func(message int) bool {
				s := float64(r.at-start) * 1e-9
				return message == 2 && s > from && s <= to
			}
		}
	}
	rate := func(hz float64) func(*rig) { return func(r *rig) { r.rateHz = hz } }
	both := []string{"alive FL fail", "alive FR fail"}
	for _, c := range []struct {
		name    string
		spoil   func(*rig)
		seconds float64
		quiet   float64  // s, by Advance
		open    []string // of alive only
		says    string   // of the first of them
		lost    float64
	}{
		{name: "clean", seconds: 5},
		{name: "dead message", spoil: func(r *rig) { r.drop = func(m int) bool { return m == 3 } }, seconds: 5, open: []string{"alive FR fail"}, says: "no FR_Angle has come in 5.0 s"},
		{name: "dead message, too early to tell", spoil: func(r *rig) { r.drop = func(m int) bool { return m == 3 } }, seconds: 2, open: []string{"alive FR inconclusive"}, says: "FR_Angle has not come in 2.0 s; 3 s are waited for"},
		{name: "dead corner", spoil: func(r *rig) { r.drop = func(m int) bool { return m >= 2 } }, seconds: 5, open: []string{"alive FR fail"}, says: "nothing has come from FR"},
		{name: "dead source", spoil: func(r *rig) {
			r.setup.Sources = append(r.setup.Sources, "rear")
			r.setup.Messages[2].Source, r.setup.Messages[3].Source = 1, 1
			r.drop = func(m int) bool { return m >= 2 }
		}, seconds: 5, open: []string{"alive FR inconclusive", "alive rear fail"}, says: "FR is silent, like all of rear"},
		{name: "dead source, too early to tell", spoil: func(r *rig) {
			r.setup.Sources = append(r.setup.Sources, "rear")
			r.setup.Messages[2].Source, r.setup.Messages[3].Source = 1, 1
			r.drop = func(m int) bool { return m >= 2 }
		}, seconds: 2, open: []string{"alive FR inconclusive", "alive rear inconclusive"}, says: "FR is silent"},
		{name: "0.5 % lost", spoil: lose(0.005), seconds: 40, lost: 0.005},
		{name: "2 % lost", spoil: lose(0.02), seconds: 40, open: []string{"alive FR fail"}, says: " of FR_Forces are lost, more than 1.0 %", lost: 0.02},
		{name: "1.5 % of 800 lost, too few to tell", spoil: func(r *rig) {
			n := 0
			r.drop = func(message int) bool {
				if message == 2 {
					n++
				}
				return message == 2 && n%67 == 30
			}
		}, seconds: 4, open: []string{"alive FR inconclusive"}, says: " of FR_Forces are lost; that is too close to the limit of 1.0 % to decide", lost: 0.015},
		{name: "gap", spoil: missing(3, 3.5), seconds: 60, open: []string{"alive FR fail"}, says: "FR_Forces stayed away for 0.5", lost: 0.5 / 60},
		{name: "gap under 0.2 s", spoil: missing(3, 3.15), seconds: 60, lost: 0.15 / 60},
		{name: "six months", spoil: func(r *rig) {
			r.run(3)
			r.at += 182 * 86400e9
		}, seconds: 3, open: both, says: " stayed away for 15724800.0", lost: 1},
		{name: "slower than described", spoil: rate(100), seconds: 6, open: both, says: "comes every 10.0 ms, its description says every 5.0 ms"},
		{name: "a little slower", spoil: rate(188), seconds: 6},
		{name: "faster than described", spoil: rate(400), seconds: 6},
		{name: "no rate described", spoil: func(r *rig) { r.setup.Messages[2].Period = 0 }, seconds: 6},
		{name: "no rate described and 2 % lost", spoil: func(r *rig) { r.setup.Messages[2].Period = 0; lose(0.02)(r) }, seconds: 40, open: []string{"alive FR fail"}, says: " of FR_Forces are lost", lost: 0.02},
		{name: "silent at the end", seconds: 5, quiet: 1, open: both, says: "has been silent for 1.0 s, since 5.0 s after the start"},
		{name: "quiet at the end", seconds: 5, quiet: 0.15},
		{name: "two frames", seconds: 0.011, open: []string{"alive FL inconclusive", "alive FR inconclusive"}, says: "FL_Forces has come only 2 times"},
		{name: "short frames", spoil: func(r *rig) {
			r.start()
			r.send = func(at int64, message int, samples []Sample) {
				if message == 2 {
					r.judge.Message(at, message, 4, true, nil)
					return
				}
				r.judge.Message(at, message, 8, false, samples)
			}
		}, seconds: 5, open: []string{"alive FR fail"}, says: "times with only 4 bytes, its description says 8"},
		{name: "page never comes", spoil: func(r *rig) {
			r.start()
			r.send = func(at int64, message int, samples []Sample) {
				if message == 3 {
					samples = samples[:1]
				}
				r.judge.Message(at, message, 8, false, samples)
			}
		}, seconds: 5, open: []string{"alive FR fail"}, says: "FR_Angle.Serial has never come, although its message did"},
		{name: "page has not come yet", spoil: func(r *rig) {
			r.start()
			r.send = func(at int64, message int, samples []Sample) {
				if message == 3 {
					samples = samples[:1]
				}
				r.judge.Message(at, message, 8, false, samples)
			}
		}, seconds: 2, open: []string{"alive FR inconclusive"}, says: "FR_Angle.Serial has not come yet"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(2, "FL", "FR")
			if c.spoil != nil {
				c.spoil(r)
			}
			r.run(c.seconds)
			if c.quiet > 0 {
				r.judge.Advance(r.at + int64(c.quiet*1e9))
			}
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			var alive []string
			says, lost := "", 0.0
			for _, f := range got.Findings {
				if f.Check != "alive" {
					continue
				}
				if o := open(Result{Findings: []Finding{f}}); o != nil {
					alive = append(alive, o...)
					if says == "" {
						says = f.Sentence
					}
				}
				lost = math.Max(lost, f.Value.Value)
			}
			if len(alive) != len(c.open) {
				t.Fatalf("open %v, want %v: %s", alive, c.open, says)
			}
			for i := range alive {
				if alive[i] != c.open[i] {
					t.Errorf("open %v, want %v", alive, c.open)
				}
			}
			if !contains(says, c.says) {
				t.Errorf("says %q, want %q in it", says, c.says)
			}
			if math.Abs(lost-c.lost) > 0.003 {
				t.Errorf("lost %v, want %v", lost, c.lost)
			}
		})
	}
}

func TestAliveCounter(t *testing.T) {
	for _, c := range []struct {
		name     string
		modulus  float64
		value    func(k int) float64 // of frame k, NaN: not sent
		verdict  Verdict
		says     string
		lost     float64
		atLength int
	}{
		{"by 1 to 255", 256, func(k int) float64 { return float64(k % 256) }, Pass, "", 0, 2000},
		{"by 1 to 15", 16, func(k int) float64 { return float64(k % 16) }, Pass, "", 0, 2000},
		{"by 5", 65536, func(k int) float64 { return math.Mod(float64(5*k), 65536) }, Pass, "", 0, 2000},
		{"by 5 round an odd modulus", 256, func(k int) float64 { return float64(5 * k % 256) }, Pass, "", 0, 2000},
		{"down", 256, func(k int) float64 { return float64((256*100 - k) % 256) }, Pass, "", 0, 2000},
		{"stands still", 256, func(int) float64 { return 7 }, Pass, "", 0, 2000},
		// Of every 50 numbers one is left out though no time is: 39/(39+1999) = 1.9 %.
		{"leaves out one in 50", 65536, func(k int) float64 { return float64(k + k/50) }, Fail, "the counter of FL_Forces leaves out 1.9 % of its numbers", 0.019, 2000},
		{"leaves out one in 500", 65536, func(k int) float64 { return float64(k + k/500) }, Pass, "", 0.0015, 2000},
		{"frames lost", 256, func(k int) float64 {
			if k%40 == 7 {
				return math.NaN()
			}
			return float64(k % 256)
		}, Fail, "2.5 % of FL_Forces are lost", 0.025, 2000},
		{"two devices", 256, func(k int) float64 {
			if k%10 == 9 {
				return float64((k / 10 * 77) % 256)
			}
			return float64(2 * k % 256)
		}, Fail, "", -1, 2000},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(2, "FL")
			ch := int32(len(r.setup.Channels))
			r.setup.Channels = append(r.setup.Channels, Channel{Name: "FL_Forces.Count", Quantity: Counter, Step: 1, High: c.modulus - 1})
			r.setup.Corners[0].Channels[Counter] = ch
			r.start()
			k := -1
			r.send = func(at int64, message int, samples []Sample) {
				if message == 0 {
					if k++; math.IsNaN(c.value(k)) {
						return
					}
					samples = append(samples, Sample{Channel: ch, Value: c.value(k)})
				}
				r.judge.Message(at, message, 8, false, samples)
			}
			r.run(float64(c.atLength) / r.rateHz)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			f := find(got, "alive", "FL", "")
			if f.Verdict != c.verdict || !contains(f.Sentence, c.says) {
				t.Errorf("%s: %q, want %s with %q", f.Verdict, f.Sentence, c.verdict, c.says)
			}
			if c.lost >= 0 && math.Abs(f.Value.Value-c.lost) > 0.001 {
				t.Errorf("lost %v, want %v", f.Value.Value, c.lost)
			}
		})
	}
}

// A clock that is set back is no silence, and what is silent afterwards is found as ever.
func TestAliveClockStepsBack(t *testing.T) {
	for _, back := range []float64{0.001, 0.5, 6, 3600, 182 * 86400} {
		r := newRig(2, "FL", "FR")
		r.run(10)
		r.at -= int64(back * 1e9)
		r.run(5)
		got := r.judge.Result()
		keepsRules(t, &r.setup, got)
		for _, name := range []string{"FL", "FR"} {
			if f := find(got, "alive", name, ""); f.Verdict != Pass {
				t.Errorf("%g s back: %s is %s: %s", back, name, f.Verdict, f.Sentence)
			}
		}
		r.drop = func(message int) bool { return message >= 2 }
		r.run(3)
		if f := find(r.judge.Result(), "alive", "FR", ""); f.Verdict != Fail {
			t.Errorf("%g s back, then FR silent: %s: %s", back, f.Verdict, f.Sentence)
		}
	}
}

func TestAliveWithoutAFrame(t *testing.T) {
	r := newRig(2, "FL", "FR")
	j := New(r.setup)
	got := j.Result()
	keepsRules(t, &r.setup, got)
	if got.Verdict != Inconclusive || got.Next != "Switch the amplifier on." {
		t.Errorf("a capture without a frame is %s, next %q; want inconclusive, the amplifier", got.Verdict, got.Next)
	}
	// Live, time goes on: 3 s of silence are a fail of the source.
	j.Advance(1e9)
	if got := j.Result(); got.Verdict != Inconclusive {
		t.Errorf("at the start %s, want inconclusive", got.Verdict)
	}
	j.Advance(4.1e9)
	got = j.Result()
	keepsRules(t, &r.setup, got)
	if f := find(got, "alive", "wheels", ""); f.Verdict != Fail || got.Verdict != Fail {
		t.Errorf("after 3.1 s of silence %s: %q, want fail", f.Verdict, f.Sentence)
	}
}

func TestAliveWithoutChannels(t *testing.T) {
	r := newRig(2, "FL", "FR")
	r.setup.Corners[1].Channels = NoChannels()
	r.setup.Optics = []Optic{{Name: "road", Kind: GroundSpeed, Corner: -1, Channels: NoChannels()}}
	r.run(5)
	got := r.judge.Result()
	keepsRules(t, &r.setup, got)
	for _, f := range got.Findings {
		if f.Subject != "FL" && f.Subject != "wheels" && f.Verdict != Absent {
			t.Errorf("%s %s %s is %s, want absent: %s", f.Check, f.Subject, f.Channel, f.Verdict, f.Sentence)
		}
	}
}

// A sensor that is switched on after the others is no fault; it is told when it came.
func TestAliveLate(t *testing.T) {
	r := newRig(2, "FL", "FR")
	r.drop = func(message int) bool { return message >= 2 }
	r.run(6)
	if f := find(r.judge.Result(), "alive", "FR", ""); f.Verdict != Fail {
		t.Errorf("before it came %s: %s", f.Verdict, f.Sentence)
	}
	r.drop = nil
	r.run(5)
	got := r.judge.Result()
	keepsRules(t, &r.setup, got)
	if f := find(got, "alive", "FR", ""); f.Verdict != Pass || !strings.Contains(f.Sentence, "but from 6.0 s after the start") {
		t.Errorf("after it came %s: %s", f.Verdict, f.Sentence)
	}
	if f := find(got, "alive", "FL", ""); f.Verdict != Pass || strings.Contains(f.Sentence, "beginning") {
		t.Errorf("FL, there from the beginning, %s: %s", f.Verdict, f.Sentence)
	}
}
