package checks

import (
	"math"
	"strings"
	"testing"
)

// withSpin gives each corner a speed channel in its angle message.
func withSpin(r *rig, factor float64) {
	for i := range r.setup.Corners {
		r.setup.Channels = append(r.setup.Channels, Channel{Name: "Speed", Quantity: Spin, Message: 2*i + 1, Step: 0.01, Low: -400, High: 400})
		r.setup.Corners[i].Channels[Spin] = int32(len(r.setup.Channels) - 1)
	}
	r.start()
	r.send = func(at int64, message int, samples []Sample) {
		if i := message / 2; message%2 == 1 {
			samples = append(samples, Sample{Channel: r.setup.Corners[i].Channels[Spin], Value: factor * r.wheels[i].omega})
		}
		r.judge.Message(at, message, 8, false, samples)
	}
}

func TestAngleStuck(t *testing.T) {
	stuck := func(r *rig) { r.angle[1] = func(float64) float64 { return 1 } }
	for _, c := range []struct {
		name string
		do   func(*rig)
		want Verdict
		says string
	}{
		{"moves", func(r *rig) { r.brief(0, 1) }, Pass, "moves when its wheel does"},
		{"never turned", func(r *rig) { r.run(5) }, Inconclusive, "1 is the least"},
		{"force goes round", func(r *rig) { stuck(r); r.brief(0, 1) }, Fail, "its radial force goes round"},
		{"speed says so", func(r *rig) {
			stuck(r)
			withSpin(r, 1)
			r.wheels[1].noiseN = 0
			r.run(2)
			r.wheels[1].omega, r.wheels[1].fz = 4, 10 // too little force to have a direction
			r.run(3)
		}, Fail, "its speed channel says"},
		{"all others roll", func(r *rig) {
			stuck(r)
			r.run(2)
			r.wheels[0].omega = 6
			r.wheels[1].omega = 0 // its own force shows nothing
			for range 40 {
				r.run(0.1)
				r.judge.Advance(r.at)
			}
		}, Fail, "all other wheels roll"},
	} {
		r := newRig(5, "FL", "FR")
		c.do(r)
		f := find(r.judge.Result(), "angle-stuck", "FR", "")
		if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
			t.Errorf("%s: %s: %s; want %s, %q", c.name, f.Verdict, f.Sentence, c.want, c.says)
		}
	}
}

func TestAngleSpin(t *testing.T) {
	for _, c := range []struct {
		factor float64
		want   Verdict
	}{{1, Pass}, {1.005, Pass}, {1.04, Fail}, {0.96, Fail}, {-1, Fail}, {1 / (2 * math.Pi), Fail}} {
		r := newRig(5, "FL")
		withSpin(r, c.factor)
		r.brief(0)
		f := find(r.judge.Result(), "angle-spin", "FL", "")
		// The speed is that of the whole step and is integrated from step to step: exact but for the encoder's counts.
		if f.Verdict != c.want || math.Abs(f.Value.Value-c.factor) > 0.002 {
			t.Errorf("factor %v: %s %v: %s", c.factor, f.Verdict, f.Value.Value, f.Sentence)
		}
	}
}

// A wheel that begins to roll a little later than the others, at each of many stops, does not stand still.
func TestStandstillStretches(t *testing.T) {
	tests := []struct {
		name    string
		moves   bool // the angle moves between the stops
		others  float64
		stretch float64 // s, the longest
	}{
		{"it moves after each stop", true, 0.2, 0.2},
		{"it never moves", false, 0.2, 6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var s standstill
			at := int64(0)
			for range 30 {
				for range 100 { // 10 s, of which the others roll at first while this wheel stands
					at += 1e8
					since := at % 10e9
					rolling := since > 0 && since <= int64(tt.others*1e9)
					s.others(at, rolling, tt.moves && !rolling && since < 5e9)
				}
			}
			if got := s.Others.Most; math.Abs(got-tt.stretch) > 0.15 { // the first interval has no beginning
				t.Errorf("longest stretch = %v s, want %v", got, tt.stretch)
			}
		})
	}
}
