package checks

import "slices"

// Group is what a check belongs to.
type Group string

// The groups, in the order of results.
const (
	Connection  Group = "connection"
	ZeroGroup   Group = "zero"
	AngleGroup  Group = "angle"
	SignalGroup Group = "signal"
	Ground      Group = "ground"
	OpticGroup  Group = "optics"
	DriveGroup  Group = "drive"
)

// Check is one check: what it asks, how it answers, and the function that answers from the
// evidence. Its texts are the reference documentation: REFERENCE.md is made of them.
type Check struct {
	Name     string // an interface: results, metrics and alarms carry it
	Group    Group
	Asks     string
	Required bool     // a function test without it is not complete
	Evidence string   // what must have been seen before it decides
	Formula  string   // what is computed, what the value means, and what fails
	Limits   []string // words under limits: in the setup that it judges by; nil: no setup changes its bounds
	Source   string   // where formula and bounds come from; "common practice" and "from memory" where from nowhere better

	judge func(*view) []Finding
}

// All returns every check in the order of results.
func All() []Check {
	return []Check{
		{
			Name: "alive", Group: Connection, Required: true, judge: alive,
			Asks:     "does each message arrive, at its rate, without gaps or counter jumps",
			Evidence: "Any. A message is waited for 3 s after the first frame; its period and the step of its counter are the medians of its first 64 intervals. Nothing passes before a second.",
			Formula:  "Share lost = missing ÷ (missing + seen), the larger of what time stamps and counter say, the largest of the subject's messages. By the stamps g/T − 1 frames are missing in an interval g > 1.5·T, with T the period described, or the one kept where that is more than 10 % off. Fails where the least share of which so many are no chance is beyond frames_lost_ratio, undecided where only the share itself is. Fails as well where a message never came, was away for longer than gap_periods·T and 0.2 s, comes with a period more than 10.5 % too long, is too short for a signal that is wanted, has more than 1 % of counter values that fit no number of missing frames, or never carried a signal that is wanted.",
			Limits:   []string{"frames_lost_ratio", "gap_periods"},
			Source:   "Period: GenMsgCycleTime of the DBC; exact lower bound of a Poisson mean, 2.5 % to a side (Garwood 1936). 3 s, 0.2 s, 10 % (and 0.5 % that stamps scatter) and 1 %: common practice.",
		},
		{
			Name: "bus", Group: Connection, Required: true, judge: busCheck,
			Asks:     "error frames, controller state, frames lost on the way, bytes thrown away",
			Evidence: "Any; what the reader of the source tells beside its frames.",
			Formula:  "Value = (error frames + frames lost on the way) ÷ (those + frames heard). Fails where losses are more than 0.001 of all, where the least share of error frames of which so many are no chance is (undecided where only the share itself is), where bytes of no valid frame are more than a hundredth of the frames, where only error frames come, where 50 messages of another source come and none of its own, after a bus-off, and while the link is down, absent, error passive or without a valid frame. What only the recorder lost does not count.",
			Source:   "Classes of error frames: linux/can/error.h; lower bound as in alive. 0.001, a hundredth and 50: common practice.",
		},
		{
			Name: "identity", Group: Connection, Required: true, judge: identity,
			Asks:     "is the serial number the one in the setup",
			Evidence: "One value of the serial channel.",
			Formula:  "The newest number sent equals the one in the setup. Where it is that of another corner, that is said.",
			Source:   "The setup file.",
		},
		{
			Name: "placement", Group: Connection, Required: true, judge: placement,
			Asks:     "does each plug sit on the corner that its label says; is one channel mapped twice",
			Evidence: "A whole turn of each lifted wheel, one at a time; to know the corner a mark, a serial number or the turn order, the first that there is. Of optical sensors (never required) a board or a hand under one of them while the vehicle stands on the ground.",
			Formula:  "|g₊(i, j)| of the forces of corner i on the angle of corner j, as in zero: they belong together where it is at least m·g/2 (40 N where the mass is not known). Fails where forces answer to another corner's angle and not to their own, where mark, serial number or turn order put the plug on another corner, and where two channels carry the same numbers in more than 0.9 of 200 changes or more (optical sensors: 0.98 of 500).",
			Source:   "Model of the hanging wheel, f = −i·m·g. 40 N and the shares: common practice.",
		},
		{
			Name: "zero", Group: ZeroGroup, Required: true, judge: zero,
			Asks:     "offset of each component, from a free turn of the lifted wheel",
			Evidence: "The lifted wheel turned: 1 whole turn for a value, 3 for an uncertainty; for my turns by hand in both directions, 4 in all.",
			Formula:  "f_r(θ) = o + g₊·e^{iθ} + g₋·e^{−iθ} by least squares on [1, cos θ, sin θ], for each turn and component in rotating axes. Value = mean of o over the turns; of my (mean forward + mean back)/2, in which the friction cancels. u is the scatter between turns ÷ √n, with half a raw step (rectangular); U = t(ν)·u. Passes where |o| + U ≤ limit, fails where |o| − U > limit, else undecided.",
			Limits:   []string{"zero_force_n", "zero_moment_nm"},
			Source:   "Three-parameter sine fit of IEEE Std 1057 with the angle in place of ωt; scatter JCGM 100, 4.2, t(ν) its Annex G; guard band w = U of JCGM 106.",
		},
		{
			Name: "weight", Group: ZeroGroup, Required: true, judge: weight,
			Asks:     "does the hanging wheel weigh m·g: scale of the radial force",
			Evidence: "Three whole turns of the lifted wheel, and wheel_mass_kg in the setup.",
			Formula:  "Value = mean |g₊| ÷ (m·g), of the larger sequence where the angle counts against the forces. Guarded about 1, U from the turns and half a raw step.",
			Limits:   []string{"weight_ratio"},
			Source:   "g = 9.80665 m/s² (CGPM 1901); sine fit and guard band as in zero.",
		},
		{
			Name: "axes", Group: ZeroGroup, Required: true, judge: axes,
			Asks:     "equal sensitivity and right angle of the two radial axes",
			Evidence: "Three whole turns of the lifted wheel.",
			Formula:  "ε = g₋ ÷ conj(g₊) of each turn; value = |mean ε|. Its real part is half of the relative difference of the sensitivities, its imaginary part half of the angle by which the axes are not square. U from the wider axis of the scatter between turns.",
			Limits:   []string{"axes_ratio"},
			Source:   "Negative sequence of the hanging weight; guard band as in zero.",
		},
		{
			Name: "drag", Group: ZeroGroup, Required: true, judge: drag,
			Asks:     "friction about the axle: brake, bearing, rubbing pick-up ring",
			Evidence: "The lifted wheel turned by hand in both directions, 4 whole turns in all; turns in which the opposite wheel drove it along do not count.",
			Formula:  "Value = |mean my forward − mean my back| ÷ 2, my taken as in zero. Only the size is judged: a wheel turned by the engine has the other sign. What rubs on the rim side of the element is felt by the hand and not by my.",
			Limits:   []string{"drag_nm"},
			Source:   "Sum of moments about the axle; guard band as in zero.",
		},
		{
			Name: "angle-offset", Group: AngleGroup, Required: true, judge: angleOffset,
			Asks:     "misalignment of the angle against the force axes",
			Evidence: "Three whole turns of the lifted wheel, with an angle that counts with the forces and loses no counts.",
			Formula:  "δ = −arg(i·g₊) of each turn, transmitted minus true. From two turns forward and two back on, δ = δ₀ − ω·τ by least squares and δ₀ is judged, else their mean. U from the turns, with a whole encoder count, half a raw step of the angle and half of one of the force. Within 5° of k·360°/bolts it is told as bolt holes. Undecided where it was turned one way only and an angle that comes up to 20 ms late would explain it. δ = atan2(Fx, Fz) at rest on the ground is told where it differs by more than twice the limit and U; it never judges.",
			Limits:   []string{"angle_offset_deg"},
			Source:   "Model of the hanging wheel; type B as in JCGM 100, 4.3.7. 5° and 20 ms: common practice.",
		},
		{
			Name: "angle-sense", Group: AngleGroup, Required: true, judge: angleSense,
			Asks:     "does the angle count in the direction in which the forces turn",
			Evidence: "One whole turn of the lifted wheel; beside that 3 s of rolling, where ground speed or other wheels tell the direction.",
			Formula:  "Value = |g₋| ÷ (|g₊| + |g₋|). Passes where |g₊| > 2·|g₋|, fails where |g₋| > 2·|g₊|, whichever way the wheel was turned. Fails as well where on a roll the angle counts against the ground speed, or against at least two other wheels, in 6 halves of a second or more and 10 times as many as not.",
			Source:   "Negative sequence of the hanging weight. 2, 6 and 10: common practice.",
		},
		{
			Name: "angle-steps", Group: AngleGroup, Required: true, judge: angleSteps,
			Asks:     "range, wrap and resolution of the angle",
			Evidence: "One whole turn, 50 steps of the angle, and angle_counts in the setup for the resolution.",
			Formula:  "Range covered = highest − lowest angle sent: between 0.9 and 1 turn, with two raw steps. At most 1 % of the values lie off the grid of 2π/angle_counts, laid from the first one. Value = greatest common divisor of all steps, which must be one count; not judged where the raw step is more than half a count.",
			Source:   "Euclid's algorithm. 0.9, 50 and 1 %: common practice.",
		},
		{
			Name: "angle-jumps", Group: AngleGroup, Required: true, judge: angleJumps,
			Asks:     "does the angle jump",
			Evidence: "One whole turn and 50 steps that can be judged. Following begins anew after a gap in which more than half a turn may have passed.",
			Formula:  "Of three steps Δθ in a row the middle one may lie between what the speeds before and after make of its Δt, and beyond that by 25 rad/s²·Δt·(the time of all three). Value = the farthest excess. Fails beyond angle_jump_deg and 10 encoder counts. Δt comes from the stamps, so lost frames are no jumps.",
			Limits:   []string{"angle_jump_deg"},
			Source:   "Kinematics; a hard brake on a small wheel changes its speed by 50 rad/s² and 10 counts: common practice.",
		},
		{
			Name: "angle-slip", Group: AngleGroup, Required: true, judge: angleSlip,
			Asks:     "are counts lost from turn to turn",
			Evidence: "Three whole turns of the lifted wheel, quarters of a turn without a pause between them.",
			Formula:  "δ of quarters of a turn, fitted over the signed number of turns: one slope for all runs and directions, an offset of its own for each, so that half a count of bias and a time skew stay out of it. Value = −slope, positive when counts are lost.",
			Limits:   []string{"angle_slip_deg"},
			Source:   "Linear regression within groups; guard band as in zero.",
		},
		{
			Name: "angle-stuck", Group: AngleGroup, judge: angleStuck,
			Asks:     "does the angle stand still while the wheel turns",
			Evidence: "Any; it passes after one whole turn.",
			Formula:  "Fails where the angle stands still while the radial force goes round by 1.5 turns, while the speed channel is above 1.2 rad/s for 2 s, or while all other wheels roll on the ground for 2 s, without moving in between. Undecided where another corner's angle goes with the forces: that is placement.",
			Source:   "1.5 turns, 1.2 rad/s and 2 s: common practice.",
		},
		{
			Name: "angle-spin", Group: AngleGroup, judge: angleSpin,
			Asks:     "does the speed channel do what the angle does",
			Evidence: "Three whole turns, lifted or rolling, with a speed channel.",
			Formula:  "Value = ∫ω dt ÷ Δθ over whole turns, by trapezoids. Guarded about 1 with 0.02.",
			Source:   "0.02: common practice; guard band as in zero.",
		},
		{
			Name: "skew", Group: AngleGroup, judge: skew,
			Asks:     "time between angle and force",
			Evidence: "Two whole turns forward and two back of the lifted wheel, with an angle that counts with the forces and loses no counts.",
			Formula:  "δ = δ₀ − ω·τ by least squares over the turns. Value = τ, positive where the angle is later than the force.",
			Limits:   []string{"skew_s"},
			Source:   "Linear regression (checked against NIST StRD); guard band as in zero.",
		},
		{
			Name: "coupling", Group: AngleGroup, judge: coupling,
			Asks:     "do lost frames, odd values or drag bunch at one angle of the wheel or the steering: ring not aligned, cable that chafes",
			Evidence: "Three whole turns; of errors at least 8, of drag more than three turns by hand.",
			Formula:  "Errors are gaps in the radial forces, at the angle in their middle, and values farther than five times the noise from what the turn before says. T = n·(ē − m)ᵀC⁻¹(ē − m), with ē the mean of (cos θ, sin θ) over n errors, m and C mean and covariance over all frames due. Fails beyond 13.8155. First it fails where the once-per-turn part of my, with the sign of the direction, exceeds a quarter of drag_nm by more than U; within U of it nothing else is decided but errors that bunch. Errors that bunch while rolling, where 3 lifted turns or more would have had 8 more about that angle than chance and three times as many as they had, are told as a cable that chafes and not as the ring. So are, without an angle, errors of which 0.8 lie in curves to one side, in two curves or more: T = Σ (n − e)² ÷ e over straight on, left and right, e what the frames due there would have had, fails beyond the same bound; a curve is (right − left) ÷ (right + left) of the first axle beyond 0.008.",
			Limits:   []string{"drag_nm"},
			Source:   "T is χ² with 2 degrees of freedom where errors know nothing of the angle; −2·ln 0.001 = 13.8155. A plain Rayleigh test cries wolf on a wheel that a hand turns unevenly. 8, five times, a quarter, 0.8, two and 0.008: common practice.",
		},
		{
			Name: "frozen", Group: SignalGroup, Required: true, judge: frozen,
			Asks:     "does a channel stand still while its message arrives",
			Evidence: "100 samples and 2 s.",
			Formula:  "Value = length of the longest run of one value. Fails where it lasts for 2 s, 100 samples and more than 3·ln n ÷ −ln p samples, with p the least share of n samples that repeat the one before: three times what chance makes. Not where the raw step is above a 25th of the limit of noise and too coarse for the noise, as its neighbours are.",
			Limits:   []string{"noise_force_n", "noise_moment_nm"},
			Source:   "Longest run of n trials, pⁿ·n = 1. A strain gauge always shows some noise; 2 s, 100 and 25: common practice.",
		},
		{
			Name: "clipped", Group: SignalGroup, Required: true, judge: clipped,
			Asks:     "was a channel at an end of its range",
			Evidence: "Any; a floating-point number has no end to clip at.",
			Formula:  "Value = samples at the lowest or the highest raw value. Fails from 3 on.",
			Source:   "Range of the raw number in the DBC. 3: common practice.",
		},
		{
			Name: "range", Group: SignalGroup, Required: true, judge: inRange,
			Asks:     "are the values possible: numbers, as described, no more than a wheel carries",
			Evidence: "Any; load_n in the setup for what a wheel carries.",
			Formula:  "Value = largest size. Fails on what is not a number, what the DBC names as not available or error, what is beyond its stated range, and beyond 2.2·load_n + 1000 N standing or lifted, 6·load_n rolling; moments that on 0.5 m. A channel that had no value for its first 5 s only and was well for 5 s since has passed.",
			Source:   "Minimum, maximum and value tables of the DBC. 2.2, 1000 N, 6, 0.5 m and 5 s: common practice.",
		},
		{
			Name: "noise", Group: SignalGroup, Required: true, judge: noise,
			Asks:     "scatter of each component at rest",
			Evidence: "Three whole seconds in which the wheel is at rest, lifted or on the ground; the newest 16 that were looked at. Without them the turns of a lifted wheel can pass it and not fail it.",
			Formula:  "Value = √(mean of the variances about the mean of each second), without spikes and without mains lines that stand out. U from the scatter between seconds, with half a raw step. By the turns: the RMS that the sine fit leaves over, passed below 0.8 of the limit.",
			Limits:   []string{"noise_force_n", "noise_moment_nm"},
			Source:   "JCGM 100, 4.2; guard band as in zero. 0.8: common practice.",
		},
		{
			Name: "spikes", Group: SignalGroup, Required: true, judge: spikes,
			Asks:     "do single samples jump far off",
			Evidence: "5 s at rest or lifted and turned, at least 20 samples a second. Three spikes tell a rate; a minute tells that there are fewer. Few events take long: twice the limit is beyond doubt after some 8 minutes, ten times after half a minute; the sentence says how much longer.",
			Formula:  "A spike jumps by more than ten standard deviations (as the median step between samples tells them), six raw steps and twice the limit of noise, and is back after two samples. Value = spikes of all components of the corner per minute judged; U reaches to the exact bound of the mean, 2.5 % to a side, on the side of the limit.",
			Limits:   []string{"spikes_per_minute", "noise_force_n", "noise_moment_nm"},
			Source:   "Half of the steps between independent normal values are below 0.954 standard deviations; exact interval of a Poisson mean (Garwood 1936). Ten, six, two, three: common practice.",
		},
		{
			Name: "hum", Group: SignalGroup, Required: true, judge: hum,
			Asks:     "do mains at 50 or 60 Hz show in a component",
			Evidence: "Three whole seconds at rest, as for noise, at a rate that shows 50 or 60 Hz: at least 20 a second, the line or its alias at 6 Hz or more and 3 Hz below half of the rate. Where the rate shows neither it holds nothing back.",
			Formula:  "Squared amplitude at 50 and 60 Hz in each second under a Hann window, less the median of what stands 3 and 5 Hz beside it. Value = the root of the larger. U from the scatter between seconds, at least √(M² + 2·A²·M) ÷ √n of the neighbourhood M. A line is clear where it is above M·(4 + 6/n).",
			Limits:   []string{"hum_force_n", "hum_moment_nm"},
			Source:   "Discrete Fourier transform at the real time stamps; power of noise is exponential. Distances: common practice.",
		},
		{
			Name: "status", Group: SignalGroup, Required: true, judge: status,
			Asks:     "does the electronics say that it is well",
			Evidence: "One value of the status channel.",
			Formula:  "Every value is one that the setup lists as good, 0 where it lists none. What it says only in its first 5 s is forgiven after 5 s of good.",
			Source:   "Values: setup and value table of the DBC. 5 s: common practice.",
		},
		{
			Name: "supply", Group: SignalGroup, Required: true, judge: supply,
			Asks:     "was the supply voltage within its limits",
			Evidence: "One value of the supply channel.",
			Formula:  "Value = lowest or highest, the one that lies worse. Fails where a single one is outside; how often and when is told.",
			Limits:   []string{"supply_v"},
			Source:   "Limits: setup.",
		},
		{
			Name: "temperature", Group: SignalGroup, Required: true, judge: temperature,
			Asks:     "was the temperature within its limits",
			Evidence: "One value of the temperature channel.",
			Formula:  "As supply.",
			Limits:   []string{"temperature_c"},
			Source:   "Limits: setup.",
		},
		{
			Name: "load", Group: Ground, Required: true, judge: load,
			Asks:     "load of each corner on the ground and their sum",
			Evidence: "Three seconds at rest on the ground, load_n and wheel_mass_kg in the setup; for the sum mass_kg and all corners, where they carry 0.85 of it or more by the setup.",
			Formula:  "Value = mean |f − o| + m·g of the newest 64 seconds, o the zero that the turns have shown: the element does not feel what is outboard of it. The size is taken, so that an error of the angle does not show a second time. U from the seconds, the zero, half a raw step and a sensitivity known to 1 % (rectangular). Guarded about load_n with load_ratio of it; the sum about mass_kg·g with load_sum_ratio of it. A side or an axle whose share is more than load_sum_ratio off is told.",
			Limits:   []string{"load_ratio", "load_sum_ratio"},
			Source:   "Corner scales and mass in the setup; guard band as in zero. 1 %: common practice.",
		},
		{
			Name: "radius", Group: Ground, judge: radius,
			Asks:     "rolling radius of each wheel against its tyre",
			Evidence: "Three seconds of straight rolling at a steady speed, with a ground speed sensor and a radial tyre in the setup. Straight is where (right − left) ÷ (right + left) of an axle lies densest, ± 0.003.",
			Formula:  "Value = R = v ÷ ω, with v less what the sensor shows at rest. Guarded about 3.05·D ÷ 2π with radius_ratio of it, D = d + 2·S·(aspect ÷ 100). Undecided where all wheels are off alike: then it is not the wheels.",
			Limits:   []string{"radius_ratio"},
			Source:   "D: UN Regulation No. 30. 3.05: ETRTO, radial passenger tyres, from memory. 0.003: common practice.",
		},
		{
			Name: "agreement", Group: Ground, judge: agreement,
			Asks:     "do all wheels turn alike on the same way, and does the ground speed agree",
			Evidence: "Three seconds of straight rolling, as for radius; of a wheel without another of its tyre three slower and three faster ones.",
			Formula:  "Value = turns ÷ median turns of the wheels with the same tyre − 1, of two their ratio − 1. Who is off is said where fewer than half of more than two are, or where radius or angle-slip knows; else undecided. A wheel alone: R slow ÷ R fast − 1. A ground speed sensor: way ÷ way of all wheels by their tyres − 1, the median of the wheels, with radius_ratio.",
			Limits:   []string{"agreement_ratio", "radius_ratio"},
			Source:   "Guard band as in zero.",
		},
		{
			Name: "clearance", Group: OpticGroup, Required: true, judge: clearance,
			Asks:     "height of each sensor bar above the ground",
			Evidence: "Three seconds at rest on the ground with nothing under the bar, and clearance_m in the setup.",
			Formula:  "Value = mean of its heights. Guarded about clearance_m with clearance_tolerance_m of the sensor, U from the seconds and half a raw step.",
			Source:   "0.20 m: common practice; both are the setup's. Guard band as in zero.",
		},
		{
			Name: "camber", Group: OpticGroup, Required: true, judge: camber,
			Asks:     "camber by the heights against the sensor's own",
			Evidence: "Three seconds at rest on the ground, two heights and the sensor's own camber.",
			Formula:  "γ = atan(b ÷ √(1 + a²)), b = (outer − inner) ÷ baseline, a = (third − (outer + inner)/2) ÷ baseline_third, 0 without a third height. Value = the sensor's own − γ.",
			Limits:   []string{"camber_deg"},
			Source:   "Geometry of a plane; guard band as in zero.",
		},
		{
			Name: "dropout", Group: OpticGroup, Required: true, judge: dropout,
			Asks:     "how many distances or speeds are none",
			Evidence: "Three seconds on the ground, at rest or rolling; not while a wheel hangs.",
			Formula:  "Value = share of values that are no number, at an end of the raw range, named as not available, or a height of nothing. U from the scatter between seconds.",
			Limits:   []string{"dropout_ratio"},
			Source:   "Value tables of the DBC; guard band as in zero.",
		},
		{
			Name: "rest-speed", Group: OpticGroup, Required: true, judge: restSpeed,
			Asks:     "does a ground speed sensor show nothing at rest",
			Evidence: "Three seconds at rest on the ground, by the wheels; where no wheel can tell, by a speed below 0.5 m/s.",
			Formula:  "Value = mean over the seconds, forward and sideways.",
			Limits:   []string{"rest_speed_mps"},
			Source:   "0.5 m/s: common practice; guard band as in zero.",
		},
		{
			Name: "slip", Group: OpticGroup, judge: slip,
			Asks:     "is a ground speed sensor mounted straight",
			Evidence: "Three seconds of straight rolling at 1 m/s or more, as for radius.",
			Formula:  "Value = atan2(vy, vx) of the mean direction, what it shows at rest taken off: the mounting angle. Its own slip signal fails where it is beyond the same limit off the angle of its speeds.",
			Limits:   []string{"slip_deg"},
			Source:   "1 m/s: common practice; guard band as in zero.",
		},
		{
			Name: "drift", Group: DriveGroup, judge: drift,
			Asks:     "has what should stay moved since the start of the drive: zeros, noise, rates, temperature",
			Evidence: "fx fz mx mz: 120 s and 60 turns of steady rolling for the start, then windows of 30 s and 40 turns; turns in which the fit leaves over more than 5 % of the load, at least 60 N (moments a tenth of that), do not count. fy my, heights and speeds of optical sensors: five standstills on the ground between two rolls for the start, then windows of five. noise: 12 seconds at rest on the ground, then windows of 8. rate: 12 pieces of 10 s and at least 40 frames, then windows of 6. temperature: a value every 10 s, 12 and then 6.",
			Formula:  "Value = mean of the last window − mean of the start. fx fz mx mz, N or N·m: the term of each turn that does not turn, fitted on [1, cos θ, sin θ] in rotating axes; tyre and balance put a constant there, which cancels. fy my, N or N·m: mean at standstill, each standstill once; off fy what a slope does to all wheels alike, load_n times the median of fy ÷ load_n, where three wheels tell it; to my R·fx is added, which a held brake puts there, R of the tyre; without these it can pass and not fail; the errors of fx that turn with the wheel, a₁·cos θ + b₁·sin θ + a₂·cos 2θ + b₂·sin 2θ at the angle θ where it stands, are fitted over the newest 60 standstills and those of the start together, beside a mean for each window and one slope within windows, where that leaves less U, and the scatter is taken no smaller than a count of the encoder makes it. Heights, m, within clearance_tolerance_m of the sensor; speeds at standstill, m/s. noise: the component whose RMS at rest is most times that of the start; value = that ratio, from the mean logarithm of the variance, which counts from a fifth of the noise limit on. rate: value = 1 − frames per second ÷ those of the start, of the message that lost most; silences that alive fails for do not count, so that an amplifier that starts anew loses no rate. temperature, K. U from the scatter of start and window. Fails after two windows in a row with |value| − U beyond the limit (noise, rate: only upward); it has come back after two within 0.7 of it, and what was is told.",
			Limits:   []string{"drift_force_n", "drift_moment_nm", "drift_noise_ratio", "drift_rate_ratio", "drift_temperature_c", "noise_force_n", "noise_moment_nm", "rest_speed_mps", "gap_periods"},
			Source:   "Sine fit and U as in zero; sum of moments about the axle of a wheel that stands: my = −R·fx; analysis of covariance. Lengths, counts, a fifth, two and 0.7: common practice.",
		},
	}
}

// Result is what all checks say at one moment.
type Result struct {
	Verdict  Verdict
	Findings []Finding
	Causes   []Cause
	Corners  []Seen  // by corner of the setup
	Next     string  // the one thing to do next; empty when nothing is open
	Drives   []Drive // the newest 50, oldest first
}

// Result judges the evidence gathered so far. It changes nothing and can be asked at any time.
func (j *Judge) Result() Result {
	v := newView(j)
	var r Result
	all, found, count := All(), [][]Finding{}, 0
	for i := range all {
		of := all[i].judge(v)
		found, count = append(found, of), count+len(of)
	}
	r.Findings = make([]Finding, 0, count) // hundreds, and long ones: to move them costs more than some checks do
	for n := range all {
		c := &all[n]
		for i := range found[n] {
			f := &found[n][i]
			f.Failed = j.failed(n, f)
			f.Check = c.Name
			if e := &f.Evidence; e.To < e.From { // stamps that scatter
				e.From, e.To = e.To, e.From
			}
			f.Required = v.required(c, f) && (c.Name != "hum" || humOpen(f))
			r.Findings = append(r.Findings, *f)
		}
	}
	r.Causes = causes(v, r.Findings)
	r.Verdict = overall(r.Findings)
	r.Next = next(v, &r)
	r.Drives = slices.Clone(j.driving.drives)
	r.Corners = v.seen()
	return r
}

// overall is fail if anything fails, else inconclusive if a required finding is, else
// pass. Where nothing was judged nothing has passed.
func overall(findings []Finding) Verdict {
	verdict, judged := Pass, false
	for i := range findings {
		switch f := &findings[i]; {
		case f.Verdict == Fail:
			return Fail
		case f.Verdict == Inconclusive && f.Required:
			verdict = Inconclusive
		case f.Verdict == Pass:
			judged = true
		}
	}
	if !judged {
		return Inconclusive
	}
	return verdict
}
