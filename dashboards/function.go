package dashboards

import (
	"strings"

	"plumbline/checks"
)

// functionTest is the board beside the lift: is every sensor alive, on its corner, at zero and at the right angle.
func functionTest() Board {
	return Board{
		Name: "function-test", title: "Function test", from: "now-30m", refresh: "5s",
		description: "What the function test of one vehicle has found, what is open, and how far zero and angle are off. plumbline's own page says what to do next.",
		sections: []section{
			{"Verdict", verdictPanels()},
			{"By group of checks", groupPanels()},
			{"Done so far", donePanels()},
			{"Zero", zeroPanels()},
			{"Angle, weight and drag", anglePanels()},
			{"Signals at rest", restPanels()},
		},
	}
}

func verdictPanels() []*panel {
	return []*panel{
		{
			kind: number, title: "Verdict", width: 6, height: 5, states: verdictStates(),
			description: "All required checks together. Passed means that these checks passed, and nothing else.",
			queries:     []query{{overallVerdict(own), ""}},
		},
		{
			kind: number, title: "Failing", unit: "short", width: 3, height: 5,
			description: "Findings that fail now. One cause can explain many.",
			queries:     []query{{"sum(" + own("plumbline_check_verdict", `verdict="fail"`) + ")", "findings"}},
		},
		{
			kind: number, title: "Open", unit: "short", width: 3, height: 5,
			description: "Required findings that cannot be decided yet. The page says what is missing.",
			queries:     []query{{"sum(" + own("plumbline_open_findings") + ")", "findings"}},
		},
		{
			kind: rows, title: "Causes", unit: "short", width: 5, height: 5, empty: "none found",
			description: "What explains several findings at once. The word before the colon says what, the rest where.",
			queries:     []query{{own("plumbline_cause_active"), ""}},
			columns:     []tableColumn{{value: "id", name: "cause"}, {value: "Value", name: "so", unit: "none", states: activeStates()}},
		},
		{
			kind: rows, title: "What fails", unit: "short", width: 7, height: 5, empty: "nothing fails", hide: []string{"verdict", "Value"},
			description: "Every finding that fails: where, which check, which channel. An empty channel is the whole sensor.",
			queries:     []query{{failing(), ""}},
		},
	}
}

// overallVerdict is the verdict of all checks together as a number.
func overallVerdict(selects func(string, ...string) string) string {
	return "max(3 * " + selects("plumbline_verdict", `verdict="fail"`) + " or 2 * " + selects("plumbline_verdict", `verdict="inconclusive"`) + " or " + selects("plumbline_verdict", `verdict="pass"`) + ")"
}

// groupPanels shows each group of checks over time, one line for each wheel or sensor.
func groupPanels() []*panel {
	var out []*panel
	for _, g := range []struct {
		group checks.Group
		asks  string
	}{
		{checks.Connection, "Is it heard, on the right plug, with the right serial number, on a bus without errors?"},
		{checks.ZeroGroup, "From one turn of the lifted wheel: zero, weight, axes and drag."},
		{checks.AngleGroup, "From the same turn: is the angle true, complete and in time?"},
		{checks.SignalGroup, "What each signal is worth: frozen, clipped, noisy, out of range."},
		{checks.Ground, "Down again: load, rolling radius, and whether all wheels agree."},
		{checks.OpticGroup, "Camber bars and ground speed sensors."},
	} {
		out = append(out, &panel{
			kind: timeline, title: strings.ToUpper(string(g.group[:1])) + string(g.group[1:]), width: 12, height: 6, states: verdictStates(),
			description: g.asks + " The worst verdict of the checks " + strings.Join(checksOf(g.group), ", ") + ".",
			queries:     []query{{verdictOf("subject", subject, `check=~"`+strings.Join(checksOf(g.group), "|")+`"`), "{{subject}}"}},
		})
	}
	return out
}

// checksOf returns the names of the checks of a group.
func checksOf(g checks.Group) []string {
	var names []string
	for _, c := range checks.All() {
		if c.Group == g {
			names = append(names, c.Name)
		}
	}
	return names
}

func donePanels() []*panel {
	return []*panel{
		{
			kind: bars, title: "Turns of the lifted wheels", unit: "short", width: 8, height: 8, decimals: 1,
			description: "Whole turns done by hand so far. Three forward and three back are wanted of each wheel.",
			queries:     []query{{corner("plumbline_corner_turns"), "{{corner}} {{direction}}"}},
		},
		{
			kind: timeline, title: "Lifted or on the ground", width: 8, height: 8, states: hangStates(),
			description: "By the radial force of each wheel. A zero can be judged only while the wheel hangs.",
			queries:     []query{{"sum by (corner) (" + corner("plumbline_corner_hang_state", `state="lifted"`) + " or 2 * " + corner("plumbline_corner_hang_state", `state="loaded"`) + ")", "{{corner}}"}},
		},
		{
			kind: timeline, title: "Turning", width: 8, height: 8, states: turningStates(),
			description: "Which wheel turns. Two that turn together while one is turned by hand: the differential.",
			queries:     []query{{corner("plumbline_corner_turning"), "{{corner}}"}},
		},
	}
}

// withUncertainty shows a value of a finding over time with its limit.
func withUncertainty(title, description, unit, metric, metricUnit, legend, limitName string, width uint32) *panel {
	p := &panel{
		kind: lines, title: title, unit: unit, width: width, height: 8, description: description + " The dotted lines are the limit.",
		queries: []query{{corner(metric + "_" + metricUnit), legend}},
	}
	p.queries = append(p.queries, bothLimits(metricUnit, limitName, "")...)
	return p
}

// zeroTable lists a zero with its uncertainty.
func zeroTable(title, unit, word string, decimals int) *panel {
	return &panel{
		kind: rows, title: title, unit: unit, width: 8, height: 8, decimals: decimals, empty: "turn the lifted wheels",
		description: "The zero of each channel with its expanded uncertainty (95 %). Tare by the value with the other sign, then turn the wheel again.",
		queries: []query{
			{corner("plumbline_corner_zero_offset_" + word), ""},
			{corner("plumbline_corner_zero_offset_uncertainty_" + word), ""},
		},
		columns: []tableColumn{{value: "Value #A", name: "zero", unit: unit}, {value: "Value #B", name: "± (95 %)", unit: unit}},
	}
}

func zeroPanels() []*panel {
	const how = "What each channel reads without load, from the turns of the lifted wheel; fx and fz, mx and mz in rotating axes."
	return []*panel{
		withUncertainty("Zero of the forces", how, "forceN", "plumbline_corner_zero_offset", "newtons", "{{corner}} {{channel}}", "zero_force", 16),
		zeroTable("Zero of the forces, to read off", "forceN", "newtons", 1),
		withUncertainty("Zero of the moments", how, "forceNm", "plumbline_corner_zero_offset", "newton_meters", "{{corner}} {{channel}}", "zero_moment", 16),
		zeroTable("Zero of the moments, to read off", "forceNm", "newton_meters", 2),
	}
}

func anglePanels() []*panel {
	degrees := func(expr string) string { return "deg(" + expr + ")" }
	angle := &panel{
		kind: lines, title: "Angle offset", unit: "degree", width: 12, height: 8, decimals: 2,
		description: "Transmitted angle less the true one. 1° lets 1.7 % of the vertical force leak into the longitudinal one. A whole number of bolt holes is a wheel mounted round.",
		queries:     append([]query{{degrees(corner("plumbline_corner_angle_offset_radians")), "{{corner}}"}}, bothLimits("radians", "angle_offset", "deg(%s)")...),
	}
	skew := withUncertainty("Skew", "How much later the angle is than the force; it turns with speed into an angle error.", "s", "plumbline_corner_skew", "seconds", "{{corner}}", "skew", 12)
	weight := &panel{
		kind: lines, title: "Weight of the hanging wheel", unit: "percentunit", width: 8, height: 8, decimals: 1,
		description: "Measured weight to m·g of the setup: the scale of the radial force. The dotted lines are the limit.",
		queries: []query{
			{corner("plumbline_corner_weight_ratio"), "{{corner}}"},
			{"1 + " + limit("ratio", "weight", "upper"), "limit"},
			{"1 - " + limit("ratio", "weight", "upper"), "limit below"},
		},
	}
	axes := &panel{
		kind: lines, title: "Axes", unit: "percentunit", width: 8, height: 8, decimals: 2,
		description: "Unequal sensitivity and oblique angle of the radial axes. The dotted line is the limit.",
		queries:     []query{{corner("plumbline_corner_axes_ratio"), "{{corner}}"}, {limit("ratio", "axes", "upper"), "limit"}},
	}
	drag := &panel{
		kind: lines, title: "Drag", unit: "forceNm", width: 8, height: 8, decimals: 1,
		description: "Friction about the axle: brake, bearing, or a pick-up ring that rubs on the hub side. The dotted line is the limit.",
		queries:     []query{{corner("plumbline_corner_drag_newton_meters"), "{{corner}}"}, {limit("newton_meters", "drag", "upper"), "limit"}},
	}
	certain := &panel{
		kind: rows, title: "Angle, weight, axes, drag and skew, to read off", unit: "short", width: 24, height: 7, empty: "turn the lifted wheels",
		description: "Each value with its expanded uncertainty (95 %).",
		columns: []tableColumn{
			{value: "Value #A", name: "angle", unit: "degree"},
			{value: "Value #B", name: "± angle", unit: "degree"},
			{value: "Value #C", name: "weight", unit: "percentunit"},
			{value: "Value #D", name: "± weight", unit: "percentunit"},
			{value: "Value #E", name: "axes", unit: "percentunit"},
			{value: "Value #F", name: "± axes", unit: "percentunit"},
			{value: "Value #G", name: "drag", unit: "forceNm"},
			{value: "Value #H", name: "± drag", unit: "forceNm"},
			{value: "Value #I", name: "skew", unit: "s"},
			{value: "Value #J", name: "± skew", unit: "s"},
		},
		decimals: 2,
	}
	for _, q := range []string{
		degrees(corner("plumbline_corner_angle_offset_radians")), degrees(corner("plumbline_corner_angle_offset_uncertainty_radians")),
		corner("plumbline_corner_weight_ratio"), corner("plumbline_corner_weight_uncertainty_ratio"),
		corner("plumbline_corner_axes_ratio"), corner("plumbline_corner_axes_uncertainty_ratio"),
		corner("plumbline_corner_drag_newton_meters"), corner("plumbline_corner_drag_uncertainty_newton_meters"),
		corner("plumbline_corner_skew_seconds"), corner("plumbline_corner_skew_uncertainty_seconds"),
	} {
		certain.queries = append(certain.queries, query{"max by (corner) (" + q + ")", ""})
	}
	return []*panel{angle, skew, weight, axes, drag, certain}
}

func restPanels() []*panel {
	const how = "Scatter (RMS) at rest, as it is judged. Chargers, lifts and a lost shield show here. The dotted line is the limit."
	return []*panel{
		{
			kind: lines, title: "Noise of the forces", unit: "forceN", width: 8, height: 8, description: how,
			queries: []query{{corner("plumbline_corner_rest_noise_newtons"), "{{corner}} {{channel}}"}, {limit("newtons", "noise_force", "upper"), "limit"}},
		},
		{
			kind: lines, title: "Noise of the moments", unit: "forceNm", width: 8, height: 8, description: how,
			queries: []query{{corner("plumbline_corner_rest_noise_newton_meters"), "{{corner}} {{channel}}"}, {limit("newton_meters", "noise_moment", "upper"), "limit"}},
		},
		{
			kind: bars, title: "Contact load", unit: "forceN", width: 8, height: 8, decimals: 0,
			description: "Load of each wheel on the ground, at rest, with the weight of the wheel itself. Compare with the corner scales.",
			queries:     []query{{corner("plumbline_corner_load_newtons"), "{{corner}}"}},
		},
	}
}
