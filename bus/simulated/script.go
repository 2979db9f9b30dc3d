package simulated

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// PhaseKind says what is done with the vehicle in a phase.
type PhaseKind string

// The kinds of phase.
const (
	Rest  PhaseKind = "rest"  // nothing moves
	Lift  PhaseKind = "lift"  // raised until the wheels hang
	Turn  PhaseKind = "turn"  // one lifted wheel by hand, forward and back
	Lower PhaseKind = "lower" // let down on the wheels
	Drive PhaseKind = "drive" // brought to a speed, which is then held
)

// Phase is one step of a script.
type Phase struct {
	Kind   PhaseKind
	Corner string // Turn: the wheel; Lift, Lower: that wheel alone, empty: all

	// Seconds is how long it lasts; 0: 4 s, for Turn 6 s each way.
	// For Drive: how long the speed is held; 0 not at all.
	Seconds float64

	Turns float64 // Turn: revolutions forward instead of Seconds
	Back  float64 // Turn: revolutions back; 0: like forward, negative: none

	SpeedMps    float64 // Drive: the speed to be reached, negative backward
	RampSeconds float64 // Drive: how long that takes; 0: gently
	YawRad      float64 // Drive: the curve driven while the speed is held, positive to the left
	Roughness   float64 // Drive: of the road, 0 workshop floor, 1 country road
}

// Span says when a phase took place, ns of event time.
type Span struct {
	Phase    Phase
	From, To int64
}

// Presets lists the names that Preset knows.
func Presets() []string { return []string{"function", "short", "roll", "drive", "long"} }

// Preset returns a script by its name: function (the function test), short (the
// same in less time), roll (on the ground only), drive (about three minutes of
// road after a short function test), long (the same with half an hour of road).
func (c Config) Preset(name string) ([]Phase, error) {
	switch name {
	case "function":
		return c.Function(), nil
	case "short":
		return c.FunctionShort(), nil
	case "roll":
		return Roll(), nil
	case "drive":
		return slices.Concat(c.FunctionShort(), Road(3)), nil
	case "long":
		return slices.Concat(c.FunctionShort(), Road(30)), nil
	}
	return nil, fmt.Errorf("simulated: no script %q: want one of %s", name, strings.Join(Presets(), ", "))
}

// Function is the standard function test: standing, lifted, every wheel turned
// six seconds forward and six back in the turn order, let down, rolled straight.
func (c Config) Function() []Phase {
	script := []Phase{{Kind: Rest, Seconds: 8}, {Kind: Lift}, {Kind: Rest, Seconds: 4}}
	for _, name := range c.turnOrder() {
		script = append(script, Phase{Kind: Turn, Corner: name})
	}
	script = append(script, Phase{Kind: Rest, Seconds: 2}, Phase{Kind: Lower}, Phase{Kind: Rest, Seconds: 5})
	return append(script, Roll()...)
}

// FunctionShort is Function with everything as short as the checks allow:
// three and a half turns each way.
func (c Config) FunctionShort() []Phase {
	script := []Phase{{Kind: Rest, Seconds: 5}, {Kind: Lift, Seconds: 2}, {Kind: Rest, Seconds: 3}}
	for _, name := range c.turnOrder() {
		script = append(script, Phase{Kind: Turn, Corner: name, Turns: 3.5})
	}
	script = append(script, Phase{Kind: Lower, Seconds: 2}, Phase{Kind: Rest, Seconds: 4})
	return append(script,
		Phase{Kind: Drive, SpeedMps: 1.5, Seconds: 6},
		Phase{Kind: Drive, SpeedMps: 0},
		Phase{Kind: Rest, Seconds: 4})
}

// Roll rolls straight over the workshop floor, slowly, then faster, and stops.
func Roll() []Phase {
	return []Phase{
		{Kind: Rest, Seconds: 3},
		{Kind: Drive, SpeedMps: 1.5, Seconds: 8},
		{Kind: Drive, SpeedMps: 5, Seconds: 10},
		{Kind: Drive, SpeedMps: 0},
		{Kind: Rest, Seconds: 4},
	}
}

// Road drives about that many minutes on a country road: speeds up to 22 m/s,
// curves to both sides, braking, stops.
func Road(minutes float64) []Phase {
	round := []Phase{
		{Kind: Rest, Seconds: 5},
		{Kind: Drive, SpeedMps: 5, Seconds: 6, Roughness: 0.5},
		{Kind: Drive, SpeedMps: 14, Seconds: 15, Roughness: 1},
		{Kind: Drive, SpeedMps: 10, Seconds: 6, YawRad: 1.2, Roughness: 1},
		{Kind: Drive, SpeedMps: 22, Seconds: 25, Roughness: 1},
		{Kind: Drive, SpeedMps: 12, RampSeconds: 3, Seconds: 4, Roughness: 1},
		{Kind: Drive, SpeedMps: 10, Seconds: 7, YawRad: -1.4, Roughness: 1},
		{Kind: Drive, SpeedMps: 16, Seconds: 15, Roughness: 1},
		{Kind: Drive, SpeedMps: 0, RampSeconds: 5, Roughness: 1},
	}
	const roundMinutes = 2 // about
	var script []Phase
	for range max(1, int(math.Round(minutes/roundMinutes))) {
		script = append(script, round...)
	}
	return append(script, Phase{Kind: Rest, Seconds: 6})
}

// FunctionTestDuration returns how long the standard function test of this
// vehicle takes in event time; 0 for a configuration that New refuses.
func FunctionTestDuration(c Config) time.Duration {
	c.Script, c.Faults = nil, nil
	v, err := New(c)
	if err != nil {
		return 0
	}
	return v.Duration()
}
