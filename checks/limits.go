package checks

import "math"

// Bounds that no setup changes.
const (
	AngleJumpCounts = 10  // a jump is at least this many encoder counts
	GapS            = 0.2 // a gap is at least this long, s
)

// Limits are the bounds that findings are judged by, in SI. The zero value is
// of no use; start from DefaultLimits.
type Limits struct {
	ZeroForceN      float64
	ZeroMomentNm    float64
	WeightRatio     float64
	AxesRatio       float64
	DragNm          float64
	AngleOffsetRad  float64
	AngleSlipRad    float64 // per revolution
	AngleJumpRad    float64 // and at least AngleJumpCounts
	SkewS           float64
	NoiseForceN     float64 // RMS
	NoiseMomentNm   float64 // RMS
	HumForceN       float64 // amplitude
	HumMomentNm     float64 // amplitude
	SpikesPerMinute float64
	FramesLostRatio float64
	GapPeriods      float64 // and at least GapS
	SupplyV         [2]float64
	TemperatureC    [2]float64
	LoadRatio       float64
	LoadSumRatio    float64
	CamberRad       float64
	DropoutRatio    float64
	RestSpeedMps    float64
	SlipRad         float64
	RadiusRatio     float64
	AgreementRatio  float64
	DriftForceN     float64
	DriftMomentNm   float64
	DriftNoiseRatio float64 // RMS at rest to that of the start, above 1
	DriftRateRatio  float64 // share of the frames per second, below 1
	// DriftTemperatureK is a change, K.
	DriftTemperatureK float64
}

// LimitKey is one limit as a setup file names it.
type LimitKey struct {
	Key     string     // word under limits:
	Unit    string     // unit in which the setup file gives it
	Factor  float64    // SI = Factor · given
	Default [2]float64 // as given in the setup file; the second only where Range
	Range   bool       // lower and upper bound
	Why     string     // reason of the default; "common practice" where there is no source
	field   func(*Limits) []*float64
}

// Set stores what a setup file gives. For a range, given holds both bounds.
func (k LimitKey) Set(l *Limits, given ...float64) {
	for i, p := range k.field(l) {
		*p = given[i] * k.Factor
	}
}

// Get returns the limit in the unit of the setup file.
func (k LimitKey) Get(l *Limits) []float64 {
	var out []float64
	for _, p := range k.field(l) {
		out = append(out, *p/k.Factor)
	}
	return out
}

// LimitKeys is the one table of limits, their defaults and the reasons.
func LimitKeys() []LimitKey {
	const deg = math.Pi / 180
	one := func(key, unit string, factor, def float64, why string, f func(*Limits) *float64) LimitKey {
		return LimitKey{key, unit, factor, [2]float64{def}, false, why, func(l *Limits) []*float64 { return []*float64{f(l)} }}
	}
	two := func(key, unit string, lo, hi float64, why string, f func(*Limits) *[2]float64) LimitKey {
		return LimitKey{key, unit, 1, [2]float64{lo, hi}, true, why, func(l *Limits) []*float64 { return []*float64{&f(l)[0], &f(l)[1]} }}
	}
	return []LimitKey{
		one("zero_force_n", "N", 1, 60, "about 1 % of a passenger corner; common practice", func(l *Limits) *float64 { return &l.ZeroForceN }),
		one("zero_moment_nm", "N·m", 1, 12, "about 1 % of a passenger corner; common practice", func(l *Limits) *float64 { return &l.ZeroMomentNm }),
		one("weight_ratio", "", 1, 0.05, "the mass of the wheel is seldom known better", func(l *Limits) *float64 { return &l.WeightRatio }),
		one("axes_ratio", "", 1, 0.02, "common practice", func(l *Limits) *float64 { return &l.AxesRatio }),
		one("drag_nm", "N·m", 1, 12, "a free wheel on a bench turns at 1 to 4; common practice", func(l *Limits) *float64 { return &l.DragNm }),
		one("angle_offset_deg", "°", deg, 1, "lets 1.7 % of the vertical force leak into the longitudinal", func(l *Limits) *float64 { return &l.AngleOffsetRad }),
		one("angle_slip_deg", "° per turn", deg, 0.3, "common practice", func(l *Limits) *float64 { return &l.AngleSlipRad }),
		one("angle_jump_deg", "°", deg, 3, "and at least 10 encoder counts; common practice", func(l *Limits) *float64 { return &l.AngleJumpRad }),
		one("skew_s", "s", 1, 0.002, "1° at 9 rad/s", func(l *Limits) *float64 { return &l.SkewS }),
		one("noise_force_n", "N", 1, 25, "root mean square; common practice", func(l *Limits) *float64 { return &l.NoiseForceN }),
		one("noise_moment_nm", "N·m", 1, 5, "root mean square; common practice", func(l *Limits) *float64 { return &l.NoiseMomentNm }),
		one("hum_force_n", "N", 1, 15, "amplitude; common practice", func(l *Limits) *float64 { return &l.HumForceN }),
		one("hum_moment_nm", "N·m", 1, 3, "amplitude; common practice", func(l *Limits) *float64 { return &l.HumMomentNm }),
		one("spikes_per_minute", "1/min", 1, 5, "common practice", func(l *Limits) *float64 { return &l.SpikesPerMinute }),
		one("frames_lost_ratio", "", 1, 0.01, "common practice", func(l *Limits) *float64 { return &l.FramesLostRatio }),
		one("gap_periods", "", 1, 20, "and at least 0.2 s; common practice", func(l *Limits) *float64 { return &l.GapPeriods }),
		two("supply_v", "V", 9, 32, "12 V and 24 V systems", func(l *Limits) *[2]float64 { return &l.SupplyV }),
		two("temperature_c", "°C", -40, 85, "industrial grade parts", func(l *Limits) *[2]float64 { return &l.TemperatureC }),
		one("load_ratio", "", 1, 0.10, "fuel, occupants", func(l *Limits) *float64 { return &l.LoadRatio }),
		one("load_sum_ratio", "", 1, 0.05, "fuel, occupants", func(l *Limits) *float64 { return &l.LoadSumRatio }),
		one("camber_deg", "°", deg, 0.5, "common practice", func(l *Limits) *float64 { return &l.CamberRad }),
		one("dropout_ratio", "", 1, 0.02, "common practice", func(l *Limits) *float64 { return &l.DropoutRatio }),
		one("rest_speed_mps", "m/s", 1, 0.1, "common practice", func(l *Limits) *float64 { return &l.RestSpeedMps }),
		one("slip_deg", "°", deg, 1, "common practice", func(l *Limits) *float64 { return &l.SlipRad }),
		one("radius_ratio", "", 1, 0.05, "common practice", func(l *Limits) *float64 { return &l.RadiusRatio }),
		one("agreement_ratio", "", 1, 0.01, "common practice", func(l *Limits) *float64 { return &l.AgreementRatio }),
		one("drift_force_n", "N", 1, 60, "as zero_force_n", func(l *Limits) *float64 { return &l.DriftForceN }),
		one("drift_moment_nm", "N·m", 1, 12, "as zero_moment_nm", func(l *Limits) *float64 { return &l.DriftMomentNm }),
		one("drift_noise_ratio", "", 1, 3, "of the noise at the start, which counts from a fifth of its limit on; an engine that idles makes less; common practice", func(l *Limits) *float64 { return &l.DriftNoiseRatio }),
		one("drift_rate_ratio", "", 1, 0.02, "twice frames_lost_ratio, within a minute; common practice", func(l *Limits) *float64 { return &l.DriftRateRatio }),
		one("drift_temperature_c", "K", 1, 50, "electronics warm by some 25 K of themselves and as much on a summer road; common practice", func(l *Limits) *float64 { return &l.DriftTemperatureK }),
	}
}

// DefaultLimits returns the limits of a passenger car.
func DefaultLimits() Limits {
	var l Limits
	for _, k := range LimitKeys() {
		k.Set(&l, k.Default[:]...)
	}
	return l
}
