package simulated

import (
	"math"
	"testing"
)

// left is a wheel of round figures: m·g = 333.4261 N (34 · 9.80665).
func left() wheel {
	w := wheel{side: 1, massKg: 34, overhangM: 0.012, loadN: 7900, radiusM: 0.36, dragNm: 2}
	w.sensor.weight = 1
	w.angle = encoder{counts: 2048, stuckFrom: math.Inf(1), spinScale: 1}
	return w
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, within)
	}
}

// Worked by hand from the mechanics of a rigid wheel.
func TestLoads(t *testing.T) {
	left, right := left(), left()
	right.side = -1
	driven := left
	driven.driven = true
	all := traffic{massKg: 3000, resistN: 400, drivers: 2}
	nobody := traffic{massKg: 3000, resistN: 400}
	oneHand := traffic{oneHand: true}
	tests := []struct {
		name string
		w    wheel
		k    motion
		all  traffic
		want loads
	}{
		{"hanging left", left, motion{lift: 1}, all, loads{fz: -333.4261, mx: -4.0011}},
		{"hanging right: the lever arm is on the other side", right, motion{lift: 1}, all, loads{fz: -333.4261, mx: 4.0011}},
		{"turned forward by hand: the hub is driven forward", left, motion{lift: 1, omega: 4}, all, loads{fz: -333.4261, mx: -4.0011, my: 2}},
		{"turned back by hand", left, motion{lift: 1, omega: -4}, all, loads{fz: -333.4261, mx: -4.0011, my: -2}},
		// The friction 2 N·m / 0.36 m = 5.56 N pushes at the top of the tyre.
		{"one hand on top", left, motion{lift: 1, omega: 4}, oneHand, loads{fx: 5.5556, fz: -333.4261, mx: -4.0011, my: 2}},
		// 0.012 m · (7900 − 333.4261) N = 90.7989 N·m.
		{"standing", left, motion{}, all, loads{fz: 7566.5739, mx: 90.7989}},
		// Nobody drives: rolling resistance 0.011 · 7900 = 86.9 N and the friction hold the vehicle back;
		// the moment about the axle is the friction alone. Mz: x·Fy − y·Fx = 0.012 · 92.4556.
		{"rolling freely", left, motion{speed: 3, omega: 8.33}, nobody, loads{fx: -92.4556, fz: 7566.5739, mx: 90.7989, my: 2, mz: 1.1095}},
		// Brakes: 3000·(−2) + 1.1·9 + 400 = −5590.1 N for all, this wheel carries 805.576 of 3000 kg of it:
		// −1501.083 N beside the rolling resistance. m·a = −68 N stays in the wheel; the nose dives:
		// ΔFz = −805.576·0.30·(−2)·1 = 483.35 N (xShare 1).
		{"braking", func() wheel { w := left; w.xShare = 1; return w }(), motion{speed: 3, omega: 8.33, accel: -2}, all, loads{
			fx: -0.011*8383.346 - 5.5556 - 1501.083 + 68, fz: 8383.346 - 333.4261, mx: 0.012 * (8383.346 - 333.4261),
			my: 2 + 0.36*1501.083, mz: 0.012 * (0.011*8383.346 + 5.5556 + 1501.083),
		}},
		// A driven wheel gets half of 400 + 9.9 N beside its own resistance.
		{"driven", driven, motion{speed: 3, omega: 8.33}, all, loads{
			fx: -92.4556 + 204.95, fz: 7566.5739, mx: 90.7989, my: 2 - 0.36*204.95, mz: -0.012 * 112.4944,
		}},
		// In a left curve the ground pushes to the left, the left wheel loses load 805.576·0.42·3 = 1015.03 N;
		// Fy = 805.576·3·(6884.97/7900) = 2106.22 N of which the wheel itself needs 102.
		{"left curve", left, motion{lateral: 3}, all, loads{
			fy: 2106.22 - 102, fz: 6884.97 - 333.4261, mx: 0.012*(6884.97-333.4261) + 0.36*2106.22,
		}},
		{"half lifted", left, motion{lift: 0.5}, all, loads{fz: 3950 - 333.4261, mx: 0.012 * (3950 - 333.4261)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.w.loads(&tt.k, &tt.all)
			near(t, "Fx", got.fx, tt.want.fx, 0.01)
			near(t, "Fy", got.fy, tt.want.fy, 0.01)
			near(t, "Fz", got.fz, tt.want.fz, 0.01)
			near(t, "Mx", got.mx, tt.want.mx, 0.01)
			near(t, "My", got.my, tt.want.my, 0.01)
			near(t, "Mz", got.mz, tt.want.mz, 0.01)
		})
	}
}

// f_r = f·e^{iθ} with f = −i·m·g, worked by hand at the quarters of a turn.
func TestSensorTurnsWithTheWheel(t *testing.T) {
	const weight = 333.4261
	tests := []struct {
		name   string
		theta  float64
		change func(*sensor)
		want   [3]float64
	}{
		{"0°", 0, nil, [3]float64{0, 0, -weight}},
		{"90°", math.Pi / 2, nil, [3]float64{weight, 0, 0}},
		{"180°", math.Pi, nil, [3]float64{0, 0, weight}},
		{"270°", 3 * math.Pi / 2, nil, [3]float64{-weight, 0, 0}},
		{"zero offset stays on the sensor", math.Pi / 2, func(s *sensor) { s.zero = [6]float64{10, 20, 30, 0, 0, 0} }, [3]float64{weight + 10, 20, 30}},
		{"10 % too sensitive", 0, func(s *sensor) { s.weight = 1.1 }, [3]float64{0, 0, -1.1 * weight}},
		// ε = 0.02: Fx reads 2 % more, Fz 2 % less.
		{"axes unequal, Fz", 0, func(s *sensor) { s.axes = 0.02 }, [3]float64{0, 0, -0.98 * weight}},
		{"axes unequal, Fx", math.Pi / 2, func(s *sensor) { s.axes = 0.02 }, [3]float64{1.02 * weight, 0, 0}},
		// ε = 0.02·i: Fx sees 2 % of Fz and the reverse.
		{"axes not square", 0, func(s *sensor) { s.axes = 0.02i }, [3]float64{-0.02 * weight, 0, -weight}},
		{"mirrored", math.Pi / 2, func(s *sensor) { s.mirror = true }, [3]float64{-weight, 0, 0}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := left()
			if tt.change != nil {
				tt.change(&w.sensor)
			}
			k := motion{lift: 1, theta: tt.theta}
			l := w.loads(&k, &traffic{})
			var got [3]float64
			w.sensor.read(&got, fx, &l, &k, &w, 0, &memory{}, &reading{}, stream(1, "test"))
			for i, name := range []string{"Fx", "Fy", "Fz"} {
				near(t, name, got[i], tt.want[i], 0.001)
			}
		})
	}
}

func TestResolveUndoesTheRotation(t *testing.T) {
	w := left()
	for theta := 0.0; theta < 7; theta += 0.3 {
		k := motion{lift: 1, theta: theta}
		l := loads{fx: 100, fy: 7, fz: 250}
		var got [3]float64
		w.sensor.read(&got, fx, &l, &k, &w, 0, &memory{}, &reading{}, stream(1, "test"))
		resolve(&got, theta)
		near(t, "Fx", got[0], 100, 1e-9)
		near(t, "Fy", got[1], 7, 0)
		near(t, "Fz", got[2], 250, 1e-9)
		// An angle that is 10° ahead turns the force back by 10°: f·e^{−iδ}.
		resolve(&got, math.Pi/18)
		near(t, "δ", math.Atan2(got[2], got[0])-math.Atan2(250, 100), -math.Pi/18, 1e-9)
	}
}

func TestTransmittedAngle(t *testing.T) {
	const deg = math.Pi / 180
	tests := []struct {
		name   string
		theta  float64 // true angle, °
		change func(*encoder)
		want   float64 // °
	}{
		{"cut down to whole counts", 100, func(e *encoder) { e.counts = 4 }, 90},
		{"behind zero comes the end of the turn", -10, func(e *encoder) { e.counts = 4 }, 270},
		{"after a turn it begins anew", 371, func(e *encoder) { e.counts = 360 }, 11},
		{"2048 counts", 100, nil, math.Floor(100.0/360*2048) / 2048 * 360},
		{"offset", 100, func(e *encoder) { e.counts, e.offsetRad = 3600, 5.02*deg }, 105},
		{"backward", 100.05, func(e *encoder) { e.counts, e.reversed = 3600, true }, 259.9},
		{"counts lost since the start at 20°", 380.05, func(e *encoder) { e.counts, e.slip, e.origin = 3600, 0.01, 20*deg }, 16.4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := left()
			if tt.change != nil {
				tt.change(&w.angle)
			}
			m := &movement{wheels: []wheel{w}, pieces: []piece{{length: 1, turned: -1, opposite: -1, theta0: []float64{tt.theta * deg}}}}
			near(t, "angle", m.transmitted(&m.wheels[0], 0.5)/deg, tt.want, 1e-9)
		})
	}
}

// Outer diameter 406 + 2·0.55·205 ≈ 632 mm for 205/55 R16 (UN Regulation No. 30).
func TestTyreRadius(t *testing.T) {
	got, err := tyreRadiusM("205/55 R16")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rolling radius", got, 0.632*3.05/2/math.Pi, 0.0003)
	if _, err := tyreRadiusM("wide"); err == nil {
		t.Error("a tyre called wide was accepted")
	}
}
