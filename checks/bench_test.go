package checks

import (
	"math"
	"testing"
)

// BenchmarkPaces is what rates, temperatures and standstills of four wheels cost, ten times a second of event time.
func BenchmarkPaces(b *testing.B) {
	y := newYard(1, "FL", "FR", "RL", "RR")
	y.stops(3, nil)
	at := y.at
	b.ReportAllocs()
	for b.Loop() {
		at += lookNs
		y.judge.paces(at)
	}
}

// BenchmarkEvidence is what each accumulator costs for what it takes: a message, a sample or a row of a corner.
// The checks only read them, so this is what the checks cost while frames come.
func BenchmarkEvidence(b *testing.B) {
	c := Corner{AngleCounts: 2048, WheelMassKg: 25, LoadN: 6000}
	row := Row{Have: 1<<components - 1, V: [components]float64{100, 5, -200, 1, 2, 3}}
	sin, cos := math.Sincos(1.2)
	var at int64
	theta := 0.0
	step := func() {
		at += 5e6
		if theta += 0.02; theta > 6.2 {
			theta -= 6.2
		}
		row.At = at
		row.V[Fx] += 0.1
	}
	for _, e := range []struct {
		name string
		add  func() func()
	}{
		{"nothing: the loop itself", func() func() { return func() {} }},
		{"timing: alive", func() func() {
			t := Timing{Nominal: 0.005}
			return func() { t.Message(at) }
		}},
		{"level: all that look at values", func() func() {
			var l Level
			s := Sample{}
			return func() { s.Value = row.V[Fz]; l.add(at, &s) }
		}},
		{"encoder: angle-steps angle-jumps", func() func() {
			e := Encoder{count: 2 * math.Pi / 2048, limit: 0.05, spacing: 12e6, step: 1e-4}
			return func() { e.add(at, theta) }
		}},
		{"turn: zero weight axes drag angle-offset skew", func() func() {
			var t Turn
			return func() { t.add(&row, theta, cos, sin, true) }
		}},
		{"sectors: angle-slip", func() func() {
			var s sectors
			s.begin(theta, 1)
			return func() { s.add(row.V[Fx], row.V[Fz], theta, cos, sin, 1) }
		}},
		{"answer: placement", func() func() {
			var a Answer
			return func() { a.add(at, row.V[Fx], row.V[Fz], theta, cos, sin, true) }
		}},
		{"rest: load", func() func() {
			r := Rest{spread: 300, creepRad: 0.02}
			return func() { r.add(at, 10, 5800, 0, false, true) }
		}},
		{"bunching: coupling", func() func() {
			var x Bunching
			return func() { x.add(at, theta, cos, sin, 0.005, false) }
		}},
		{"standstill: angle-stuck", func() func() {
			var s standstill
			return func() { s.force(at, row.V[Fx], row.V[Fz], false, Lifted, 100) }
		}},
		{"speedometer: angle-spin", func() func() {
			var s speedometer
			return func() { s.add(at, 4, theta, true, 0) }
		}},
		{"drift", func() func() {
			d := Drift{steady: 300}
			return func() { d.add(&row, theta, cos, sin, true) }
		}},
		{"trend: drift, of each standstill, second or piece", func() func() {
			p := trend{base: 5, window: 5, limit: 60}
			return func() { p.add(row.V[Fx], at, at) }
		}},
		{"condition: lifted or loaded", func() func() {
			x := newCondition(&c)
			return func() { x.add(at, row.V[Fx], row.V[Fz]) }
		}},
	} {
		b.Run(e.name, func(b *testing.B) {
			add := e.add()
			b.ReportAllocs()
			for b.Loop() {
				step()
				add()
			}
		})
	}
}
