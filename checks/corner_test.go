package checks

import (
	"math"
	"testing"
)

// split brings each component of a corner in a message of its own.
func split(r *rig) {
	s := &r.setup
	for i := range s.Corners {
		for q := range Quantity(components) {
			if q == Fx {
				continue
			}
			s.Channels[s.Corners[i].Channels[q]].Message = len(s.Messages)
			s.Messages = append(s.Messages, Message{Name: s.Corners[i].Name + "_" + q.String(), Period: 0.005, Length: 8})
		}
	}
	r.send = func(at int64, message int, samples []Sample) {
		if message%2 == 1 {
			r.judge.Message(at, message, 8, false, samples)
			return
		}
		for k := range samples { // 100 µs from one to the next
			at := at + int64(k)*100_000
			r.judge.Message(at, s.Channels[samples[k].Channel].Message, 8, false, samples[k:k+1])
		}
	}
}

func TestAxesInMessagesOfTheirOwn(t *testing.T) {
	judgeFlaws(t, []flaw{
		{name: "clean", spoil: split},
		{name: "zero off", spoil: func(r *rig) { split(r); r.wheels[1].zero[Fz] = 120 }, open: []string{"zero FR fz fail"}, check: "zero FR fz", value: 120, near: 3},
		{name: "zero off in mx", spoil: func(r *rig) { split(r); r.wheels[1].zero[Mx] = -24 }, open: []string{"zero FR mx fail"}, check: "zero FR mx", value: -24, near: 0.5},
		{name: "angle off", spoil: func(r *rig) { split(r); r.wheels[1].delta = 3 * degree }, open: []string{"angle-offset FR fail"}, check: "angle-offset FR", value: 3 * degree, near: 0.3 * degree},
	})
}

// f = 10 − 20i in fixed axes is (10 − 20i)·i = 20 + 10i at a quarter of a turn.
func TestRowTurn(t *testing.T) {
	r := Row{Have: 1<<Fx | 1<<Fz | 1<<Mx, V: [components]float64{Fx: 10, Fz: -20, Mx: 5}}
	r.turn(Fx, Fz, math.Cos(math.Pi/2), math.Sin(math.Pi/2))
	if math.Abs(r.V[Fx]-20) > 1e-12 || math.Abs(r.V[Fz]-10) > 1e-12 || !r.has(Fx) || !r.has(Fz) {
		t.Errorf("%v, want fx 20 and fz 10", r.V)
	}
	r.turn(Mx, Mz, 0, 1)
	if r.has(Mx) || r.has(Mz) {
		t.Error("mx without mz was turned")
	}
}

// Of two fixed axes in messages of their own, one that is 50 ms old is not that of the same moment.
func TestFixedAxesPairWhileFresh(t *testing.T) {
	for _, c := range []struct {
		apart int64 // ns
		rows  int
	}{{0, 1}, {49 * ms, 1}, {50 * ms, 0}, {1000 * ms, 0}} {
		r := newRig(1, "FL")
		r.resolved()
		split(r)
		r.start()
		ch := &r.setup.Corners[0].Channels
		r.judge.Message(0, r.setup.Channels[ch[Fx]].Message, 8, false, []Sample{{Channel: ch[Fx], Value: 3}})
		r.judge.Message(c.apart, r.setup.Channels[ch[Fz]].Message, 8, false, []Sample{{Channel: ch[Fz], Value: 4}})
		w := &r.judge.corners[0].waiting
		if w.n != c.rows {
			t.Errorf("%d ms apart: %d rows, want %d", c.apart/ms, w.n, c.rows)
		}
		if w.n == 1 && (w.first().V[Fx] != 3 || w.first().V[Fz] != 4 || w.first().At != c.apart) {
			t.Errorf("%+v, want fx 3 and fz 4 at the later time", w.first())
		}
	}
}

func TestWaitingDropsTheOldest(t *testing.T) {
	var w waiting
	for i := range int64(200) {
		w.push(&Row{At: i})
	}
	if !w.full() || w.Dropped != 72 || w.first().At != 72 {
		t.Errorf("dropped %d, first %d, want 72 and 72", w.Dropped, w.first().At)
	}
	for i := int64(72); w.n > 0; i++ {
		if w.first().At != i {
			t.Fatalf("row %d, want %d", w.first().At, i)
		}
		w.drop()
	}
}
