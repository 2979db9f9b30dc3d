package dashboards

// drive is the board of the passenger and of the office: which channel went bad, when, and whether it came back.
func drive() Board {
	return Board{
		Name: "drive", title: "Drive", from: "now-15m", refresh: "1s",
		description: "What one vehicle does during a drive, corner by corner, with a mark where a check fails and where an alarm is raised. The passenger looks, never the driver.",
		sections: []section{
			{"Now", drivingPanels()},
			{"Forces in wheel axes: x forward, y left, z up", forcePanels()},
			{"What the channels are worth", worthPanels()},
			{"Drift of the zero since the start of the drive", driftPanels()},
			{"Speed", speedPanels()},
			{"Electronics and optics", electronicPanels()},
		},
	}
}

func drivingPanels() []*panel {
	return []*panel{
		{
			kind: number, title: "Driving", width: 3, height: 5, states: drivingStates(),
			description: "Whether the vehicle drives; a traffic light belongs to the drive.",
			queries:     []query{{"max(" + own("plumbline_drive_active") + ")", ""}},
		},
		{
			kind: number, title: "Failing", unit: "short", width: 3, height: 5,
			description: "Findings that fail.",
			queries:     []query{{"sum(" + own("plumbline_check_verdict", `verdict="fail"`) + ")", "findings"}},
		},
		{
			kind: number, title: "Recording", width: 4, height: 5, states: recordingStates(),
			description: "What the recorder does. Without a recording nothing can be looked at again.",
			queries:     []query{{recordingState(), ""}},
		},
		{
			kind: number, title: "On the road for", unit: "s", width: 3, height: 5, empty: "–",
			description: "From the first to the last roll of the newest drive.",
			queries:     []query{{"max(" + own("plumbline_drive_end_timestamp_seconds") + " - " + own("plumbline_drive_start_timestamp_seconds") + ")", ""}},
		},
		{
			kind: bars, title: "Drift, of its limit", unit: "percentunit", width: 11, height: 5, bound: 1, empty: "needs 150 s of rolling",
			description: "Worst drift of each wheel as a share of its limit; at 100 % the channel counts as bad from there on.",
			queries:     []query{{"max by (corner) (" + driftShare(corner, own) + ")", "{{corner}}"}},
		},
		{
			kind: rows, title: "What failed, since when, how often, and whether it is over", unit: "s", width: 24, height: 7, empty: "nothing has failed",
			description: "Every finding that ever failed. Began: how long ago it failed first. Over for: how long ago it failed last; 0 is going on. Times: how often it began.",
			queries: []query{
				{ago("plumbline_finding_first_failure_timestamp_seconds"), ""},
				{ago("plumbline_finding_last_failure_timestamp_seconds"), ""},
				{subject("plumbline_finding_failures_total"), ""},
			},
			columns: []tableColumn{
				{value: "Value #A", name: "began", unit: "s"},
				{value: "Value #B", name: "over for", unit: "s", below: 2, word: "✗ goes on"},
				{value: "Value #C", name: "times", unit: "none"},
			},
		},
		{
			kind: timeline, title: "Corners and sensors", width: 24, height: 8, states: verdictStates(),
			description: "The worst verdict of each wheel, sensor and bus over time. Yellow is normal until enough of the drive has been seen.",
			queries:     []query{{verdictOf("subject", subject), "{{subject}}"}},
		},
	}
}

// ago is how long ago the moment of a metric is, s of event time.
func ago(metric string) string {
	return own("plumbline_snapshot_timestamp_seconds") + " - on (instance) group_right () " + subject(metric)
}

func recordingState() string {
	return stateOf("plumbline_recording_state", "state", map[string]int{"disabled": 0, "recording": 1, "waiting": 2, "closed": 3, "stopped": 4}, "instance")
}

// driftShare is each drift as a share of its limit; the arguments select the series of both.
func driftShare(drifts, limits func(metric string, matchers ...string) string) string {
	of := func(unit, name string) string {
		return "abs(" + drifts("plumbline_corner_drift_"+unit) + `) / on (instance) group_left () ` + limits("plumbline_limit_"+unit, `limit="`+name+`"`, `bound="upper"`)
	}
	return of("newtons", "drift_force") + "\n  or " + of("newton_meters", "drift_moment")
}

func forcePanels() []*panel {
	force := func(channel, title, description string) *panel {
		p := &panel{kind: lines, title: title, unit: "forceN", width: 8, height: 9, description: description + " Thick: mean of each second; thin: lowest and highest value in it."}
		for _, part := range [][2]string{{"mean", ""}, {"minimum", " low"}, {"maximum", " high"}} {
			p.queries = append(p.queries, query{corner("plumbline_corner_force_"+part[0]+"_newtons", `channel="`+channel+`"`), "{{corner}}" + part[1]})
		}
		return p
	}
	spread := func(q float64, title, description string) *panel {
		return &panel{
			kind: lines, title: title, unit: "forceN", width: 12, height: 7, description: description,
			queries: []query{{quantile(q, "corner", "plumbline_corner_vertical_force_newtons", "5m", `corner=~"$corner"`), "{{corner}}"}},
		}
	}
	return []*panel{
		force("fz", "Vertical force Fz", "Load of the wheel. It does not fall to zero on a road: if it does, look at the channel."),
		force("fx", "Longitudinal force Fx", "Drive and brake. Once per turn of the wheel it should not move: that is a zero that is off."),
		force("fy", "Lateral force Fy", "Curves, toe and camber."),
		spread(0.99, "Vertical force, 99 of 100 values are below", "Over the last five minutes, from every value that was sent."),
		spread(0.01, "Vertical force, 1 of 100 values is below", "Over the last five minutes, from every value that was sent."),
	}
}

func worthPanels() []*panel {
	return []*panel{
		{
			kind: lines, title: "Noise of the forces", unit: "forceN", width: 12, height: 8,
			description: "White noise of each second in wheel axes, without what moves slowly or turns with the wheel. One channel that leaves the others is a cable or a plug.",
			queries:     []query{{corner("plumbline_corner_force_noise_newtons"), "{{corner}} {{channel}}"}},
		},
		{
			kind: lines, title: "Noise of the moments", unit: "forceNm", width: 12, height: 8,
			description: "White noise of the last ten seconds, without what moves slowly. Of mx and mz as they are sent: at less than 500 values a second what turns with the wheel shows in it.",
			queries:     []query{{subject("plumbline_channel_noise_newton_meters", `window="10s"`), "{{subject}} {{channel}}"}},
		},
		{
			kind: timeline, title: "Messages and signals", width: 12, height: 8, states: verdictStates(),
			description: "The worst verdict of the connection and signal checks. A line that turns red and stays: the data since then are not to be used.",
			queries:     []query{{verdictOf("subject", subject, `check=~"alive|bus|frozen|clipped|range|noise|spikes|status|supply|temperature"`), "{{subject}}"}},
		},
		{
			kind: lines, title: "Frames that are missing", unit: "cps", width: 12, height: 8,
			description: "Frames a second that gaps between time stamps tell of, by message.",
			queries:     []query{{"rate(" + own("plumbline_message_lost_frames_total") + "[$__rate_interval])", "{{message}}"}},
		},
	}
}

func driftPanels() []*panel {
	p := func(unit, word, name, title string) *panel {
		out := withUncertainty(title, "How far the part that turns with the wheel has moved since the first two minutes; each point is half a minute of rolling.",
			unit, "plumbline_corner_drift", word, "{{corner}} {{channel}}", name, 12)
		out.queries = append(out.queries, query{corner("plumbline_corner_drift_uncertainty_" + word), "{{corner}} {{channel}} ±"})
		return out
	}
	return []*panel{
		p("forceN", "newtons", "drift_force", "Drift of the forces"),
		p("forceNm", "newton_meters", "drift_moment", "Drift of the moments"),
		{
			kind: lines, title: "Noise at rest, times that of the start", unit: "none", width: 8, height: 7, decimals: 2,
			description: "Of the component that grew most, at stops. A cable that chafes grows here first. The dotted line is the limit.",
			queries:     []query{{corner("plumbline_corner_drift_ratio", `channel="noise"`), "{{corner}}"}, {limit("ratio", "drift_noise", "upper"), "limit"}},
		},
		{
			kind: lines, title: "Frames per second lost since the start", unit: "percentunit", width: 8, height: 7, decimals: 2,
			description: "Of the message that lost most. The dotted line is the limit.",
			queries:     []query{{own("plumbline_corner_drift_ratio", `channel="rate"`), "{{corner}}"}, {limit("ratio", "drift_rate", "upper"), "limit"}},
		},
		{
			kind: lines, title: "Temperature since the start", unit: "celsius", width: 8, height: 7, decimals: 1,
			description: "How far each wheel's electronics have warmed since the start of the drive. One that leaves the others is a brake or a bearing.",
			queries:     []query{{corner("plumbline_corner_drift_celsius"), "{{corner}}"}, {limit("celsius", "drift_temperature", "upper"), "limit"}},
		},
	}
}

func speedPanels() []*panel {
	const turns = "plumbline_corner_angular_velocity_radians_per_second"
	return []*panel{
		{
			kind: lines, title: "Ground speed", unit: "velocitykmh", width: 8, height: 8, decimals: 1,
			description: "Of the optical sensor, forward. Empty where none is fitted.",
			queries:     []query{{"3.6 * " + own("plumbline_channel_mean_meters_per_second", `channel="speed_x"`, `window="1s"`), "{{subject}}"}},
		},
		{
			kind: lines, title: "Wheel speed", unit: "rotrpm", width: 8, height: 8, decimals: 0,
			description: "By the angle of each wheel, positive forward.",
			queries:     []query{{corner(turns) + " * 60 / (2 * pi())", "{{corner}}"}},
		},
		{
			kind: lines, title: "Wheel speed against the mean of all wheels", unit: "percentunit", width: 8, height: 8, decimals: 2,
			description: "Straight on, all wheels of one tyre agree within a percent; in a curve they part and come together again. One that stays away: tyre pressure, counts lost, a wheel that slips.",
			queries: []query{{
				"(" + corner(turns) + " / on (instance) group_left () avg by (instance) (" + own(turns) + ") - 1)\n  and on (instance, corner) abs(" + corner(turns) + ") > 3", "{{corner}}",
			}},
		},
		{
			kind: bars, title: "Agreement on straight rolls", unit: "percentunit", width: 12, height: 7, decimals: 2, empty: "needs three seconds of straight rolling",
			description: "Turns of each wheel to those of the others on the same way, less 1, as it is judged.",
			queries:     []query{{corner("plumbline_corner_agreement_ratio"), "{{corner}}"}},
		},
		{
			kind: bars, title: "Rolling radius", unit: "lengthmm", width: 12, height: 7, decimals: 1, empty: "needs a ground speed sensor and a straight roll",
			description: "Ground speed to wheel speed on straight rolls.",
			queries:     []query{{"1000 * " + corner("plumbline_corner_rolling_radius_meters"), "{{corner}}"}},
		},
	}
}

func electronicPanels() []*panel {
	return []*panel{
		{
			kind: lines, title: "Temperature of the electronics", unit: "celsius", width: 8, height: 8, decimals: 1,
			description: "Newest value of each wheel. A zero moves with temperature: compare with the drift.",
			queries:     []query{{corner("plumbline_corner_temperature_celsius"), "{{corner}}"}, {limit("celsius", "temperature", "upper"), "limit"}},
		},
		{
			kind: lines, title: "Supply", unit: "volt", width: 8, height: 8, decimals: 1,
			description: "Newest supply voltage of each wheel's electronics, and the lowest of ten seconds.",
			queries: []query{
				{corner("plumbline_corner_supply_volts"), "{{corner}}"},
				{subject("plumbline_channel_minimum_volts", `window="10s"`), "{{subject}} low"},
				{limit("volts", "supply", "lower"), "limit below"},
			},
		},
		{
			kind: lines, title: "Camber", unit: "degree", width: 8, height: 8, decimals: 2,
			description: "Of the bar's own signal, mean of each second. Empty where no bar is fitted.",
			queries:     []query{{"deg(" + own("plumbline_channel_mean_radians", `channel="camber"`, `window="1s"`) + ")", "{{subject}}"}},
		},
	}
}
