package matrix

import (
	"math"

	"plumbline/bus/simulated"
	"plumbline/checks"
)

// size is what a kind of fault is tried at.
type size struct {
	// at returns the value at so many times the limit of the check that should speak up, negative where the
	// fault has a second direction; nil: the kind has no such size, it is tried as the simulator has it.
	at   func(times float64, v *vehicle) float64
	both bool // it has a second direction, which every second seed takes

	script  script
	twice   script   // at twice the limit, where that takes longer to be beyond doubt; brief: as script
	least   int      // corners of the vehicle, below which nothing can tell it
	channel string   // of the findings that count; empty: any
	also    []string // subjects that the fault moves as well, so that they are not innocent
	free    string   // why the check need not fail; empty: it must
	why     string   // there is no size
}

// The bounds of checks that no setup changes, as the checks have them.
const (
	rateRatio     = 0.1   // of alive: by how much a period may be longer than described
	errorRatio    = 0.001 // of bus: error frames and losses among all
	spinRatio     = 0.02  // of angle-spin
	rangeLoads    = 2.2   // of range: what a standing wheel carries, in its loads
	rangeN        = 1000  // and beside that, N
	healthyV      = 13.7  // supply of a healthy corner of the simulator, before its flaw
	healthyC      = 23    // temperature
	healthyN      = 8     // noise of its forces
	scatterV      = 0.1   // by which its supply falls below its mean now and then
	untilNext     = 0.02  // s that a gap lasts longer, until the next frame, at the most
	scatterC      = 0.3   // its temperature rises above it
	seenOfSteady  = 0.85  // of a drift, by the last window of the script long
	seenOfStops   = 0.8   // of a drift, by the last five stops
	seenOfDrift   = 0.5   // of a drift, by the last but one window of the script straight
	rubAmplitude  = 0.5   // first harmonic of max(0, cos)
	rubShare      = 0.25  // of drag_nm, the limit of coupling
	seenAsItIs    = "has no size against a limit: as it is"
	seenByAngle   = "the limit is one of chance, not of a size: as it is"
	seenFromStart = "a time, not a size: as it is"
	seenAnew      = "its counter begins anew however short it was: as it is"
	mayBeLate     = "a sensor may be switched on after the others: alive tells when it came, and passes"
)

// scaled returns the size of limit·times.
func scaled(limit float64) func(float64, *vehicle) float64 {
	return func(times float64, _ *vehicle) float64 { return limit * times }
}

// about returns the size right + limit·times.
func about(right, limit float64) func(float64, *vehicle) float64 {
	return func(times float64, _ *vehicle) float64 { return right + limit*times }
}

// lowest returns the mean of a supply whose lowest value is at a limit.
func lowest(limit float64) func(float64, *vehicle) float64 {
	return func(times float64, _ *vehicle) float64 { return healthyV + (limit-healthyV)*times + scatterV }
}

func square(x float64) float64 { return x * x }

// lostAt is how many frames a second are missing where share of all are.
func lostAt(share, perS float64) float64 { return share / (1 - share) * perS }

// sizes says for each kind of fault how large it is at its limit. The limits are the defaults.
func sizes() map[string]size {
	l := checks.DefaultLimits()
	const deg = math.Pi / 180
	gapS := func(times float64, _ *vehicle) float64 {
		return times*math.Max(checks.GapS, l.GapPeriods/rateHz) - untilNext
	}
	out := map[string]size{
		"lost":    {at: scaled(l.FramesLostRatio)},
		"gap":     {at: gapS},
		"slow":    {at: func(times float64, _ *vehicle) float64 { return 1 / (1 + rateRatio*times) }},
		"counter": {at: func(times float64, _ *vehicle) float64 { return math.Round(lostAt(l.FramesLostRatio*times, rateHz)) }},
		"bus-drops": {at: func(times float64, v *vehicle) float64 {
			return math.Round(10 * lostAt(errorRatio*times, v.framesPerS()))
		}},
		"bus-errors": {at: func(times float64, v *vehicle) float64 {
			return lostAt(errorRatio*times, v.framesPerS())
		}},

		"weight":       {at: about(1, l.WeightRatio), both: true, also: []string{"vehicle"}},
		"axes":         {at: scaled(2 * l.AxesRatio), both: true, also: []string{"vehicle"}}, // ten times is 40 % of the load
		"axes-angle":   {at: scaled(2 * l.AxesRatio / deg), both: true, also: []string{"vehicle"}},
		"drag":         {at: scaled(l.DragNm)},
		"rub":          {at: scaled(l.DragNm * rubShare / rubAmplitude)},
		"angle-offset": {at: scaled(l.AngleOffsetRad / deg), both: true},
		"angle-jumps":  {at: scaled(l.AngleJumpRad / deg), both: true},
		"angle-slip":   {at: scaled(l.AngleSlipRad / deg), both: true},
		"angle-spin":   {at: about(1, spinRatio), both: true},
		"skew":         {at: scaled(l.SkewS), both: true},
		"range": {at: func(times float64, v *vehicle) float64 {
			c := v.config(1, nil)
			full, most := 1.0, c.Corners[0].LoadN
			for full*32767 < 3*most { // as the simulator sets its range
				full *= 2
			}
			for i := range c.Corners {
				most = math.Min(most, c.Corners[i].LoadN) // so that none is beyond
			}
			return times * (rangeLoads*most + rangeN) / (full * 32767)
		}},
		"noise": {at: func(times float64, _ *vehicle) float64 {
			return math.Sqrt(square(l.NoiseForceN*times) - square(healthyN))
		}},
		"spikes":            {at: scaled(l.SpikesPerMinute), script: rested, twice: waited},
		"hum":               {at: scaled(l.HumForceN)},
		"supply":            {at: lowest(l.SupplyV[0])},
		"supply-dip":        {at: lowest(l.SupplyV[0])},
		"temperature":       {at: about(healthyC, l.TemperatureC[1]-scatterC-healthyC)},
		"load":              {at: about(1, l.LoadRatio), both: true, also: []string{"vehicle"}},
		"radius":            {at: about(1, l.RadiusRatio), both: true},
		"camber":            {at: scaled(l.CamberRad / deg), both: true},
		"clearance":         {at: scaled(0.03), both: true}, // clearance_tolerance_m of the simulator's setup
		"dropout":           {at: scaled(l.DropoutRatio)},
		"rest-speed":        {at: scaled(l.RestSpeedMps), both: true},
		"slip":              {at: scaled(l.SlipRad / deg), both: true},
		"drift":             {at: scaled(l.DriftForceN / seenOfDrift), both: true, script: straight, channel: "fx"},
		"drift-fy":          {at: scaled(l.DriftForceN / seenOfStops), both: true, script: stops, channel: "fy", least: 3},
		"drift-my":          {at: scaled(l.DriftMomentNm / seenOfStops), both: true, script: stops, twice: manyStops, channel: "my"},
		"drift-height":      {at: scaled(0.03 / seenOfStops), both: true, script: stops, channel: "height_outer"},
		"drift-rate":        {at: scaled(l.DriftRateRatio / seenOfSteady), script: long, channel: "rate"},
		"drift-temperature": {at: scaled(l.DriftTemperatureK / seenOfSteady), script: long, channel: "temperature"},
		"zero":              {at: scaled(l.ZeroForceN), both: true, channel: "fz"},
	}
	for i, name := range []string{"fx", "fy", "fz", "mx", "my", "mz"} {
		limit := l.ZeroForceN
		if i >= 3 {
			limit = l.ZeroMomentNm
		}
		out["zero-"+name] = size{at: scaled(limit), both: true, channel: name}
		out["frozen-"+name] = size{why: seenFromStart, channel: name}
	}
	out["frozen"] = size{why: seenFromStart, channel: "fz", also: []string{"vehicle"}}
	out["frozen-fz"] = out["frozen"]
	out["frozen-fx"] = size{why: seenFromStart, channel: "fx", also: []string{"vehicle"}}
	out["clipped"] = size{why: seenAsItIs, also: []string{"vehicle"}}
	out["reboot"] = size{why: seenAnew}
	out["late"] = size{why: seenFromStart, free: mayBeLate}
	for _, name := range []string{"off", "angle-stuck"} {
		out[name] = size{why: seenFromStart}
	}
	for _, name := range []string{"coupling", "coupling-noise", "chafe"} {
		out[name] = size{why: seenByAngle}
	}
	out["chafe-steering"] = size{why: seenByAngle, script: curved, least: 2}
	out["drift-noise"] = size{why: seenAsItIs, script: stops, channel: "noise"}
	for _, k := range simulated.Kinds() {
		s, ok := out[k.Name]
		if !ok {
			s.why = seenAsItIs
		}
		out[k.Name] = s
	}
	return out
}

// value returns the fault's value, or why it cannot be so large. Where only one direction can be so large, that is taken.
func (s *size) value(k *simulated.Kind, times float64, v *vehicle, seed uint64) (value float64, skip string) {
	sign := 1.0
	if s.both && seed%2 == 0 {
		sign = -1
	}
	for _, way := range [2]float64{sign, -sign} {
		if way < 0 && !s.both {
			continue
		}
		value = s.at(way*times, v)
		if value >= k.Min && value <= k.Max {
			return value, ""
		}
	}
	value = s.at(times, v)
	bound, which := k.Max, "most"
	if value < k.Min {
		bound, which = k.Min, "least"
	}
	r := Row{Unit: k.Unit, Times: times}
	r.Values = []float64{value}
	tried := r.value()
	r.Values = []float64{bound}
	return value, tried + " cannot be, " + r.value() + " is the " + which
}
