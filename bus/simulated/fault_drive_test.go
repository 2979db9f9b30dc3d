package simulated

import (
	"math"
	"testing"
)

// faultRow is one kind of fault and what it must do to the stream.
type faultRow struct {
	fault string
	ok    func(t *testing.T, h, healthy *heard)
}

// driveRows are the faults that only a rolling vehicle has.
func driveRows() []faultRow {
	const ended = 9 // the phase at rest after the drive
	// near its angle and elsewhere, lifted and rolling
	chafed := func(h *heard, phase int) (n [2]float64) {
		for _, p := range h.during(phase, h.forces("FL")) {
			if math.Cos(h.v.TrueAngle("FL", p.at)-chafeAt) > nearCos {
				n[0]++
			} else {
				n[1]++
			}
		}
		return n
	}
	moved := func(moments bool, i int, want float64) func(*testing.T, *heard, *heard) {
		return func(t *testing.T, h, healthy *heard) {
			t.Helper()
			a, b := h.forces("FL"), healthy.forces("FL")
			if moments {
				a, b = h.moments("FL"), healthy.moments("FL")
			}
			near(t, "before the drive", mean(h.during(lowered, a), i), mean(healthy.during(lowered, b), i), 0)
			near(t, "after it", mean(h.during(ended, a), i)-mean(healthy.during(ended, b), i), want, 0.6)
		}
	}
	return []faultRow{
		{"chafe:FL=0.4", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "lifted", float64(len(h.during(turnFL, h.forces("FL")))), float64(len(healthy.during(turnFL, healthy.forces("FL")))), 0)
			here, there := chafed(h, rolling), chafed(healthy, rolling)
			near(t, "frames near the cable's place", here[0]/there[0], 0.6, 0.08)
			near(t, "frames elsewhere", here[1]/there[1], 1, 0)
		}},
		{"chafe-steering:FL=0.1", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "frames straight on", float64(len(h.forces("FL"))), float64(len(healthy.forces("FL"))), 0)
			cfg := faultVehicle(Fault{Kind: "chafe-steering", Corner: "FL", Value: 0.4})
			cfg.Script = []Phase{{Kind: Drive, SpeedMps: 5, Seconds: 2}, {Kind: Drive, SpeedMps: 5, Seconds: 8, YawRad: 1.5}, {Kind: Drive, SpeedMps: 5, Seconds: 8, YawRad: -1.5}}
			curved := hear(t, cfg)
			cfg.Faults = nil
			clean := hear(t, cfg)
			n := func(h *heard, phase int) float64 { return float64(len(h.during(phase, h.forces("FL")))) }
			if got := n(curved, 1) / n(clean, 1); got < 0.55 || got > 0.8 {
				t.Errorf("frames to the left: got %v of all, want about 0.65: 0.4 is lost in most of the curve", got)
			}
			near(t, "frames to the right", n(curved, 2), n(clean, 2), 0)
		}},
		{"drift-fy:FL=250", moved(false, 1, 250)},
		{"drift-my:FL=60", moved(true, 1, 60)},
		{"drift-noise:FL=80", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "before the drive", deviation(h.during(lowered, h.forces("FL")), 1), deviation(healthy.during(lowered, healthy.forces("FL")), 1), 0)
			near(t, "after it", deviation(h.during(ended, h.forces("FL")), 1), math.Hypot(80, 8), 8)
			near(t, "moments after it", deviation(h.during(ended, h.moments("FL")), 1), math.Hypot(16, 1.5), 1.6)
		}},
		{"drift-rate:FL=0.4", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			n := func(h *heard, phase int) float64 { return float64(len(h.during(phase, h.forces("FL")))) }
			near(t, "before the drive", n(h, lowered), n(healthy, lowered), 0)
			near(t, "after it", n(h, ended)/n(healthy, ended), 0.6, 0.06)
		}},
		{"drift-temperature:FL=120", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			a, b := h.state("FL", 0), healthy.state("FL", 0)
			near(t, "first", a[0], b[0], 0)
			near(t, "last", a[len(a)-1]-b[len(b)-1], 120, 0.1)
		}},
		{"drift-height:camber FL=0.08", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "before the drive", mean(h.during(lowered, h.bar()), 0), mean(healthy.during(lowered, healthy.bar()), 0), 0)
			near(t, "after it", mean(h.during(ended, h.bar()), 0)-mean(healthy.during(ended, healthy.bar()), 0), 0.08, 1e-4)
		}},
	}
}
