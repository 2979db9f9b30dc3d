package dashboards

// fleet is the board of the office: all vehicles at once. It stands on the recording rules, which are cheap to ask.
func fleet() Board {
	return Board{
		Name: "fleet", title: "Fleet", from: "now-6h", refresh: "30s", vehicles: true,
		description: "All vehicles: who is driving, who fails what, whose zero has moved the furthest. It needs the recording rules of plumbline in the store.",
		sections:    []section{{"Now", fleetNow()}, {"Over time", fleetTime()}},
	}
}

// chosen selects the vehicles that are looked at.
func chosen(metric string, matchers ...string) string {
	return anyone(metric, append([]string{`vehicle=~"$vehicle"`}, matchers...)...)
}

func fleetNow() []*panel {
	return []*panel{
		{
			kind: number, title: "Heard", unit: "short", width: 4, height: 5,
			description: "Vehicles whose metrics arrive.",
			queries:     []query{{"count(" + chosen("vehicle:plumbline_driving:max") + ")", "heard"}},
		},
		{
			kind: number, title: "Driving", unit: "short", width: 4, height: 5,
			description: "Vehicles with a wheel that turns on the ground.",
			queries:     []query{{"sum(" + chosen("vehicle:plumbline_driving:max") + ")", "driving"}},
		},
		{
			kind: number, title: "Failing", unit: "short", width: 4, height: 5,
			description: "Vehicles of which some finding fails.",
			queries:     []query{{"count(" + chosen("vehicle:plumbline_failing_findings:sum") + " > 0) or vector(0)", "failing"}},
		},
		{
			kind: bars, title: "Worst drift, of its limit", unit: "percentunit", width: 12, height: 5, bound: 1, empty: "no vehicle has rolled for 150 s",
			description: "Of each vehicle the channel whose zero has moved the furthest, as a share of its limit.",
			queries:     []query{{"topk(10, " + chosen("vehicle:plumbline_drift_of_limit:max") + ")", "{{vehicle}}"}},
		},
		{
			kind: rows, title: "Vehicles", unit: "short", width: 12, height: 9, empty: "no vehicle is heard",
			description: "One line a vehicle: whether it drives, findings that fail, findings that are open, worst drift as a share of its limit.",
			queries: []query{
				{chosen("vehicle:plumbline_driving:max"), ""},
				{chosen("vehicle:plumbline_failing_findings:sum"), ""},
				{chosen("vehicle:plumbline_open_findings:sum"), ""},
				{chosen("vehicle:plumbline_drift_of_limit:max"), ""},
			},
			columns: []tableColumn{
				{value: "Value #A", name: "driving", unit: "none", states: drivingStates()},
				{value: "Value #B", name: "failing", unit: "none"},
				{value: "Value #C", name: "open", unit: "none"},
				{value: "Value #D", name: "worst drift", unit: "percentunit"},
			},
		},
		{
			kind: rows, title: "Who fails what", unit: "short", width: 12, height: 9, empty: "nothing fails",
			description: "Every check that fails, with the number of its channels that do.",
			queries:     []query{{chosen("vehicle_subject_check:plumbline_failing_findings:sum") + " > 0", ""}},
			columns:     []tableColumn{{value: "Value", name: "channels", unit: "none"}},
		},
	}
}

func fleetTime() []*panel {
	return []*panel{
		{
			kind: timeline, title: "Who was driving", width: 12, height: 9, states: drivingStates(),
			description: "When each vehicle was driving. A gap: nothing was heard of it, which an agent without coverage makes up for later.",
			queries:     []query{{chosen("vehicle:plumbline_driving:max"), "{{vehicle}}"}},
		},
		{
			kind: timeline, title: "Verdict", width: 12, height: 9, states: verdictStates(),
			description: "Verdict of all required checks of each vehicle.",
			queries:     []query{{chosen("vehicle:plumbline_verdict:max"), "{{vehicle}}"}},
		},
		{
			kind: lines, title: "Failing findings", unit: "short", width: 12, height: 8,
			description: "A step up is a channel that went bad.",
			queries:     []query{{chosen("vehicle:plumbline_failing_findings:sum"), "{{vehicle}}"}},
		},
		{
			kind: lines, title: "Frames lost", unit: "percentunit", width: 12, height: 8, decimals: 2,
			description: "Share of the frames that were lost on the way in the last minute.",
			queries:     []query{{chosen("vehicle:plumbline_frames_lost:ratio_rate1m"), "{{vehicle}}"}},
		},
	}
}
