package checks

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// stops lets a yard stand and roll in turn; before each standstill change is told its number.
func (y *yard) stops(n int, change func(k int)) {
	y.begin()
	for k := range n {
		if change != nil {
			change(k)
		}
		y.stand(3.6)
		y.roll(1.6, 2.5, 0)
	}
}

// later is what a cause that sets in at standstill 6 and grows with each makes of it.
func later(k int, step float64) float64 { return step * math.Max(0, float64(k-5)) }

func TestDriftAtStandstill(t *testing.T) {
	four := []string{"FL", "FR", "RL", "RR"}
	push := func(names []string, do func(y *yard, k int)) func() *yard {
		return func() *yard {
			y := newYard(3, names...)
			y.rateHz = 50
			y.stops(22, func(k int) { do(y, k) })
			return y
		}
	}
	for _, c := range []struct {
		name, subject, channel string
		of                     func() *yard
		want                   Verdict
		says                   string
	}{
		{"nothing moves, fy", "FR", "fy", push(four, func(*yard, int) {}), Pass, "the mean of FR fy at standstill has moved by"},
		{"nothing moves, my", "FR", "my", push(four, func(*yard, int) {}), Pass, "has moved by"},
		{"fy goes slowly", "FR", "fy", push(four, func(y *yard, k int) { y.wheels[1].zero[Fy] = later(k, 15) }), Fail, "beyond 60.0 N since"},
		{"my goes slowly", "FR", "my", push(four, func(y *yard, k int) { y.wheels[1].zero[My] = later(k, 3) }), Fail, "beyond 12.00 N·m since"},
		{"fy is off from the start", "FR", "fy", push(four, func(y *yard, _ int) { y.wheels[1].zero[Fy] = 400 }), Pass, "has moved by"},
		{"one bump", "FR", "fy", push(four, func(y *yard, k int) { y.wheels[1].zero[Fy] = map[int]float64{12: 500}[k] }), Pass, "has moved by"},
		{"away and back", "FR", "fy", func() *yard {
			y := newYard(3, four...)
			y.rateHz = 50
			y.stops(37, func(k int) {
				y.wheels[1].zero[Fy] = 0
				if k >= 8 && k < 24 {
					y.wheels[1].zero[Fy] = 150
				}
			})
			return y
		}, Fail, "came back"},
		{"a road with a slope", "FR", "fy", push(four, func(y *yard, k int) {
			for _, w := range y.wheels {
				w.zero[Fy] = later(k, 15) // the same load on each
			}
		}), Pass, "has moved by"},
		{"two wheels cannot tell a slope", "FR", "fy", push([]string{"FL", "FR"}, func(y *yard, k int) { y.wheels[1].zero[Fy] = later(k, 15) }), Inconclusive, "fewer than three wheels"},
		{"a brake that is held on a slope", "FR", "my", push(four, func(y *yard, k int) {
			for _, w := range y.wheels {
				w.fx = later(k, 30)
				w.my = -w.fx * yardRadiusM
			}
		}), Pass, "has moved by"},
		{"no tyre", "FR", "my", func() *yard {
			y := newYard(3, four...)
			y.rateHz = 50
			y.setup.Corners[1].Tyre = ""
			y.stops(22, func(k int) { y.wheels[1].zero[My] = later(k, 3) })
			return y
		}, Inconclusive, "held brake"},
		{"too few", "FR", "fy", func() *yard { y := newYard(3, four...); y.stops(7, nil); return y }, Inconclusive, "has stood on the ground 6 times"},
		{"a bar that slips", "bar FL", "height_outer", push(four, func(y *yard, k int) { y.bars[0].outer = 0.2 + later(k, 0.006) }), Fail, "beyond 30.0 mm since"},
		{"a bar that stays", "bar FL", "height_inner", push(four, func(y *yard, k int) { y.bars[0].outer = 0.2 + later(k, 0.006) }), Pass, "has moved by"},
		{"speed at rest", "road", "speed_x", push(four, func(y *yard, k int) { y.road.rest[0] = later(k, 0.03) }), Fail, "beyond 0.10 m/s since"},
		{"noise grows", "FR", "noise", func() *yard {
			y := newYard(3, four...)
			y.rateHz = 50
			y.stops(33, func(k int) { y.wheels[1].noiseN = 6 + math.Min(later(k, 8), 40) })
			return y
		}, Fail, "beyond 3.0 times since"},
		{"noise stays", "FR", "noise", push(four, func(*yard, int) {}), Pass, "has become 1."},
		{"noise that is no trouble", "FR", "noise", push(four, func(y *yard, k int) { y.wheels[1].noiseN = 0.5 + later(k, 0.2) }), Pass, "has become 1.0"},
		{"noise sinks", "FR", "noise", push(four, func(y *yard, k int) { y.wheels[1].noiseN = 30 / (1 + later(k, 1)) }), Pass, "has become 0."},
		{"noise needs time", "FR", "noise", func() *yard { y := newYard(3, four...); y.stops(3, nil); return y }, Inconclusive, "seconds at rest"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			y := c.of()
			got := y.judged(t)
			f := find(got, "drift", c.subject, c.channel)
			if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
				t.Errorf("%s: %s; want %s, %q", f.Verdict, f.Sentence, c.want, c.says)
			}
			for _, o := range got.Findings {
				if o.Check == "drift" && o.Verdict == Fail && o.Subject != c.subject {
					t.Errorf("%s %s: %s", o.Subject, o.Channel, o.Sentence)
				}
			}
		})
	}
}

func TestDriftOfRateAndTemperature(t *testing.T) {
	run := func(seconds int, do func(r *rig, second int)) Result {
		r := newRig(5, "FL", "FR")
		r.rateHz = 50
		for i := range r.setup.Messages {
			r.setup.Messages[i].Period = 0.02
		}
		ch := int32(len(r.setup.Channels))
		r.setup.Messages = append(r.setup.Messages, Message{Name: "FR_State", Period: 0.1, Length: 8})
		r.setup.Channels = append(r.setup.Channels, Channel{Name: "FR_State.Temp", Quantity: Temperature, Message: len(r.setup.Messages) - 1, Step: 0.1, Low: -100, High: 300, Named: []NamedValue{{300, "not available"}}})
		r.setup.Corners[1].Channels[Temperature] = ch
		r.start()
		for s := range seconds {
			do(r, s)
			r.run(1)
		}
		return r.judge.Result()
	}
	temperature := func(r *rig, value float64) {
		n := len(r.setup.Messages) - 1
		r.judge.Message(r.at, n, 8, false, []Sample{{Channel: r.setup.Corners[1].Channels[Temperature], Value: value}})
	}
	lose := func(share func(second int) float64) func(*rig, int) {
		return func(r *rig, second int) {
			temperature(r, 30)
			r.drop = func(m int) bool { return m == 2 && r.random.Float64() < share(second) }
		}
	}
	for _, c := range []struct {
		name, channel string
		got           Result
		want          []Verdict
		says          string
	}{
		{"all comes", "rate", run(400, lose(func(int) float64 { return 0 })), []Verdict{Pass}, "less often"},
		{"too short", "rate", run(150, lose(func(int) float64 { return 0 })), []Verdict{Inconclusive}, "180 s are the least"},
		{"ever more is lost", "rate", run(700, lose(func(s int) float64 { return 0.0002 * float64(s) })), []Verdict{Fail}, "beyond 2.0 % since"},
		{"much is lost from the start", "rate", run(400, lose(func(int) float64 { return 0.05 })), []Verdict{Pass, Inconclusive}, ""},
		{"one bad minute", "rate", run(500, lose(func(s int) float64 {
			if s > 260 && s < 290 {
				return 0.5
			}
			return 0
		})), []Verdict{Pass, Inconclusive}, ""},
		{"away and back", "rate", run(700, lose(func(s int) float64 {
			if s > 200 && s < 400 {
				return 0.3
			}
			return 0
		})), []Verdict{Fail}, "came back"},
		{"the amplifier starts anew", "rate", run(500, lose(func(s int) float64 {
			if s >= 250 && s < 258 {
				return 1
			}
			return 0
		})), []Verdict{Pass}, "less often"},
		{"warms a little", "temperature", run(400, func(r *rig, s int) { temperature(r, 20+math.Min(float64(s)/8, 25)) }), []Verdict{Pass}, "has moved by"},
		{"is heated", "temperature", run(500, func(r *rig, s int) { temperature(r, 20+math.Max(0, float64(s-150)/3)) }), []Verdict{Fail}, "beyond 50.00 K since"},
		{"has no value", "temperature", run(400, func(r *rig, s int) {
			if s%2 == 0 {
				temperature(r, 300)
			} else {
				temperature(r, 30)
			}
		}), []Verdict{Pass}, "has moved by 0.00"},
	} {
		f := find(c.got, "drift", "FR", c.channel)
		if !slices.Contains(c.want, f.Verdict) || !strings.Contains(f.Sentence, c.says) {
			t.Errorf("%s: %s; %s; want %s, %q", c.name, f.Verdict, f.Sentence, c.want, c.says)
		}
		if f := find(c.got, "drift", "FL", "rate"); f.Verdict == Fail {
			t.Errorf("%s: %s", c.name, f.Sentence)
		}
	}
}
