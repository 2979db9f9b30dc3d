package simulated

import (
	"math"
	"testing"
	"time"
)

// The closed forms agree with each other: angle, rate and acceleration are each
// other's differences, and nothing jumps where two pieces meet.
func TestMotionIsSmooth(t *testing.T) {
	cfg := Standard(4)
	cfg.Differential = true
	cfg.Script, _ = cfg.Preset("drive")
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	const dt = 1e-4
	worstRate, worstAccel, worstLift := 0.0, 0.0, 0.0
	for i := range v.wheels {
		for at := 0.0; at < v.Duration().Seconds()-1; at += 0.0137 {
			before := v.movement.at(&v.wheels[i], at-dt)
			here := v.movement.at(&v.wheels[i], at)
			after := v.movement.at(&v.wheels[i], at+dt)
			worstRate = max(worstRate, math.Abs((after.theta-before.theta)/(2*dt)-here.omega))
			worstAccel = max(worstAccel, math.Abs((after.omega-before.omega)/(2*dt)-here.alpha))
			worstLift = max(worstLift, math.Abs(after.lift-before.lift))
		}
	}
	// At the seams of pieces the acceleration has a corner, not a step: what
	// remains is the step of the yaw rate's slope, at most 1.4·6/6² · 0.81/0.36 rad/s².
	near(t, "rate against difference of the angle", worstRate, 0, 1e-4)
	near(t, "acceleration against difference of the rate", worstAccel, 0, 0.6)
	near(t, "lift in 0.2 ms", worstLift, 0, 0.001)
}

func TestTurns(t *testing.T) {
	tests := []struct {
		name         string
		phase        Phase
		differential bool
		forward      float64 // revolutions, about
		end          float64
		opposite     float64 // revolutions at the end of the way forward
	}{
		{"by turns", Phase{Kind: Turn, Corner: "RL", Turns: 4}, false, 4, 0, 0},
		{"less than a turn", Phase{Kind: Turn, Corner: "RL", Turns: 0.25}, false, 0.25, 0, 0},
		{"forward only", Phase{Kind: Turn, Corner: "RL", Turns: 3, Back: -1}, false, 3, 3, 0},
		{"less back", Phase{Kind: Turn, Corner: "RL", Turns: 3, Back: 1}, false, 3, 2, 0},
		{"six seconds at 0.7 per second, 5.4 of them at full rate", Phase{Kind: Turn, Corner: "RL"}, false, 3.78, 0, 0},
		{"differential", Phase{Kind: Turn, Corner: "RL", Turns: 4}, true, 4, 0, -4},
		{"not a driven wheel", Phase{Kind: Turn, Corner: "FL", Turns: 4}, true, 4, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			cfg := Standard(4)
			cfg.Differential = tt.differential
			cfg.Script = []Phase{{Kind: Lift, Seconds: 1}, tt.phase}
			v, err := New(cfg)
			if err != nil {
				t.Fatal(err)
			}
			revolutions := func(corner string) (most, least, end float64) {
				from := v.TrueAngle(corner, v.Spans()[1].From)
				for at := v.Spans()[1].From; at < v.Spans()[1].To; at += int64(5 * time.Millisecond) {
					end = (v.TrueAngle(corner, at) - from) / (2 * math.Pi)
					most, least = max(most, end), min(least, end)
				}
				return most, least, end
			}
			most, _, end := revolutions(tt.phase.Corner)
			slack := 0.05
			if tt.phase.Turns == 0 {
				slack = 0.5 // a person's speed is drawn
				end = 0
			}
			near(t, "forward", most, tt.forward, slack)
			near(t, "end", end, tt.end, 2*slack)
			other := map[string]string{"RL": "RR", "FL": "FR"}[tt.phase.Corner]
			_, least, _ := revolutions(other)
			near(t, "opposite wheel", least, tt.opposite, slack)
			for _, still := range []string{"FR", map[string]string{"RL": "FL", "FL": "RL"}[tt.phase.Corner]} {
				if most, least, _ := revolutions(still); most != 0 || least != 0 {
					t.Errorf("%s turned as well: %v to %v revolutions", still, least, most)
				}
			}
		})
	}
}

// Distance over radius, and in a curve the outer wheel goes further: by
// track · yaw angle.
func TestRolling(t *testing.T) {
	cfg := Standard(2)
	for i := range cfg.Corners {
		cfg.Corners[i].Flaws = &Flaws{}
	}
	cfg.Script = []Phase{{Kind: Drive, SpeedMps: 10, RampSeconds: 4, Seconds: 6, YawRad: 0.5}, {Kind: Drive, RampSeconds: 2}}
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	end := v.Spans()[1].To
	radius := v.Truth().Corners[0].RadiusM
	turned := func(corner string) float64 {
		return (v.TrueAngle(corner, end) - v.TrueAngle(corner, v.Spans()[0].From)) * radius
	}
	// Mean speed of a ramp is half of the end speed: 20 + 60 + 10 m.
	near(t, "mean way", (turned("FL")+turned("FR"))/2, 90, 1e-6)
	near(t, "outer minus inner way", turned("FR")-turned("FL"), 0.5*trackM, 1e-6)
}

func TestScriptFaults(t *testing.T) {
	for name, script := range map[string][]Phase{
		"turn on the ground":   {{Kind: Turn, Corner: "FL"}},
		"turn nothing":         {{Kind: Lift}, {Kind: Turn}},
		"drive on the lift":    {{Kind: Lift}, {Kind: Drive, SpeedMps: 1}},
		"lift a stranger":      {{Kind: Lift, Corner: "XX"}},
		"unknown kind":         {{Kind: "wait"}},
		"negative time":        {{Kind: Rest, Seconds: -1}},
		"not a number":         {{Kind: Rest, Seconds: math.NaN()}},
		"nothing at all to do": {},
	} {
		t.Run(name, func(t *testing.T) {
			cfg := Standard(4)
			cfg.Script = script
			if _, err := New(cfg); err == nil {
				t.Error("accepted")
			}
		})
	}
}

func TestLiftOneCorner(t *testing.T) {
	cfg := Standard(4)
	cfg.Script = []Phase{{Kind: Lift, Corner: "RR"}, {Kind: Turn, Corner: "RR", Turns: 3}, {Kind: Lower, Corner: "RR"}, {Kind: Drive, SpeedMps: 1}}
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 0, 0, 1} {
		near(t, cfg.Corners[i].Name+" lift", v.movement.at(&v.wheels[i], 5).lift, want, 0)
	}
}
