package dashboards

// busAndDaemon is the board of who looks after the measuring computer.
func busAndDaemon() Board {
	return Board{
		Name: "bus-and-daemon", title: "Bus and daemon", from: "now-30m", refresh: "5s",
		description: "How the frames of one vehicle arrive, where any are lost, what is recorded, and what all that costs.",
		sections: []section{
			{"Bus", busPanels()},
			{"Messages", messagePanels()},
			{"Recording", recordingPanels()},
			{"Daemon", daemonPanels()},
		},
	}
}

// rate is how often something is counted, per second.
func rate(metric string, matchers ...string) string {
	return "rate(" + own(metric, matchers...) + "[$__rate_interval])"
}

func busPanels() []*panel {
	links := map[string]int{
		"unknown": 0, "active": 1, "silent": 2, "warning": 3, "passive": 4, "bus_off": 5, "down": 6, "absent": 7, "no_valid_frame": 8,
	}
	return []*panel{
		{
			kind: timeline, title: "Heard", width: 12, height: 7, states: upStates(),
			description: "Whether each source, wheel and optical sensor can be heard.",
			queries:     []query{{own("plumbline_source_up"), "{{source}}"}, {own("plumbline_sensor_up"), "{{subject}}"}},
		},
		{
			kind: timeline, title: "Link", width: 12, height: 7, states: linkStates(),
			description: "State of each bus or port as its reader tells it. Adapters without error information stay unknown.",
			queries:     []query{{stateOf("plumbline_source_link_state", "state", links, "source"), "{{source}}"}},
		},
		{
			kind: lines, title: "Load", unit: "percentunit", width: 12, height: 8, decimals: 0,
			description: "Share of its time that the bus was taken, by the frames that were heard. Above 80 % frames of low priority wait. Empty where the bit rate is not known.",
			queries:     []query{{own("plumbline_source_load_ratio"), "{{source}}"}},
		},
		{
			kind: lines, title: "Frames", unit: "cps", width: 12, height: 8,
			description: "Frames a second that were heard, and those of messages in the setup, which are judged.",
			queries: []query{
				{rate("plumbline_source_received_frames_total"), "{{source}} heard"},
				{rate("plumbline_source_judged_frames_total"), "{{source}} judged"},
			},
		},
		{
			kind: lines, title: "Frames lost on the way", unit: "cps", width: 8, height: 8,
			description: "By the place where they were lost: controller, driver, receive queue, plumbline's ring, recorder. What the recorder lost was judged all the same.",
			queries:     []query{{rate("plumbline_source_lost_frames_total"), "{{source}} {{place}}"}},
		},
		{
			kind: lines, title: "Error frames", unit: "cps", width: 8, height: 8,
			description: "Error frames a second of each CAN bus. Any that go on are plugs, termination or bit rate.",
			queries:     []query{{rate("plumbline_source_error_frames_total"), "{{source}}"}},
		},
		{
			kind: lines, title: "Serial bytes", unit: "Bps", width: 8, height: 8,
			description: "Bytes a second of serial ports, and those among them that belonged to no valid frame. Empty without a serial source.",
			queries: []query{
				{rate("plumbline_source_received_bytes_total"), "{{source}} heard"},
				{rate("plumbline_source_discarded_bytes_total"), "{{source}} thrown away"},
			},
		},
	}
}

func messagePanels() []*panel {
	return []*panel{
		{
			kind: lines, title: "Rate of each message", unit: "hertz", width: 12, height: 8,
			description: "Frames a second of each message in the setup.",
			queries:     []query{{rate("plumbline_message_frames_total"), "{{message}}"}},
		},
		{
			kind: lines, title: "Rate against what is expected", unit: "percentunit", width: 12, height: 8, decimals: 1,
			description: "Rate of each message to the one that its period gives. 100 % is right.",
			queries: []query{{
				rate("plumbline_message_frames_total") + "\n  * on (instance, source, message) " + own("plumbline_message_period_seconds"), "{{message}}",
			}},
		},
		{
			kind: lines, title: "Longest gap", unit: "s", width: 12, height: 8,
			description: "Longest time between two frames of each message since the start. A step is a gap that was new then.",
			queries:     []query{{own("plumbline_message_longest_gap_seconds"), "{{message}}"}},
		},
		{
			kind: lines, title: "Silent for", unit: "s", width: 12, height: 8,
			description: "Event time since the newest frame of each message.",
			queries: []query{{
				own("plumbline_snapshot_timestamp_seconds") + " - on (instance) group_right () " + own("plumbline_message_last_timestamp_seconds"), "{{message}}",
			}},
		},
	}
}

func recordingPanels() []*panel {
	return []*panel{
		{
			kind: timeline, title: "Recorder", width: 8, height: 5, states: recordingStates(),
			description: "What the recorder does. It stops before the disk is full; listening and judging go on.",
			queries:     []query{{recordingState(), "recorder"}},
		},
		{
			kind: number, title: "Parts", unit: "short", width: 4, height: 5,
			description: "Parts of this session with something in them.",
			queries:     []query{{"sum(" + own("plumbline_recording_parts") + ")", "parts"}},
		},
		{
			kind: number, title: "Stopped by the disk", unit: "short", width: 6, height: 5,
			description: "How often recording was stopped because the disk was full or failed.",
			queries:     []query{{"sum(" + own("plumbline_recording_stops_total") + ")", "times"}},
		},
		{
			kind: number, title: "Old parts removed", unit: "short", width: 6, height: 5,
			description: "Parts removed to keep the bound of the folder. A recording that is still wanted must be fetched before.",
			queries:     []query{{"sum(" + own("plumbline_recording_removed_parts_total") + ")", "parts"}},
		},
		{
			kind: lines, title: "Free disk", unit: "bytes", width: 8, height: 8,
			description: "Free bytes, and the reserve below which recording stops.",
			queries: []query{
				{own("plumbline_recording_free_bytes"), "free"},
				{own("plumbline_recording_reserve_bytes"), "limit: reserve"},
			},
		},
		{
			kind: lines, title: "Written", unit: "Bps", width: 8, height: 8,
			description: "Bytes a second that became safe on the disk.",
			queries:     []query{{rate("plumbline_recording_bytes"), "bytes"}},
		},
		{
			kind: lines, title: "Frames on their way to the disk", unit: "short", width: 8, height: 8,
			description: "Frames heard and not yet safe, and those that became safe a second. A heap that grows: the disk is too slow.",
			queries: []query{
				{own("plumbline_source_pending_frames"), "{{source}} waiting"},
				{rate("plumbline_source_written_frames_total"), "{{source}} written per second"},
			},
		},
	}
}

func daemonPanels() []*panel {
	age := func(q float64, legend string) query {
		return query{quantile(q, "source", "plumbline_source_frame_age_seconds", "$__rate_interval"), "{{source}} " + legend}
	}
	judging := func(q float64, legend string) query {
		return query{quantile(q, "instance", "plumbline_judging_duration_seconds", "$__rate_interval"), legend}
	}
	return []*panel{
		{
			kind: lines, title: "Age of the frames when judged", unit: "s", width: 8, height: 8,
			description: "How old frames are when they have been judged; half are younger, 99 of 100 are younger. Serial adapters that deliver in bursts add their 16 ms.",
			queries:     []query{age(0.5, "half"), age(0.99, "99 of 100")},
		},
		{
			kind: lines, title: "Time to judge", unit: "s", width: 8, height: 8,
			description: "How long it takes to make verdicts out of the evidence, five times a second.",
			queries:     []query{judging(0.5, "half"), judging(0.99, "99 of 100")},
		},
		{
			kind: lines, title: "Processor", unit: "percentunit", width: 8, height: 8, decimals: 1,
			description: "Processor time of plumbline; 100 % is one core.",
			queries:     []query{{rate("process_cpu_seconds_total"), "{{instance}}"}},
		},
		{
			kind: lines, title: "Memory", unit: "bytes", width: 8, height: 8,
			description: "What the system gave, and the heap in use. It does not grow with the length of a drive.",
			queries: []query{
				{own("process_resident_memory_bytes"), "from the system"},
				{own("go_memstats_heap_inuse_bytes"), "heap"},
			},
		},
		{
			kind: lines, title: "Goroutines and open files", unit: "short", width: 8, height: 8,
			description: "Both stay about where they are after the start; one that climbs is a leak.",
			queries:     []query{{own("go_goroutines"), "goroutines"}, {own("process_open_fds"), "open files"}},
		},
		{
			kind: lines, title: "Scrape", unit: "s", width: 8, height: 8,
			description: "How long Prometheus waits for one scrape.",
			queries:     []query{{own("scrape_duration_seconds"), "{{instance}}"}},
		},
		{
			kind: rows, title: "Program", unit: "short", width: 12, height: 5, hide: []string{"Value"},
			description: "What runs there.",
			queries:     []query{{own("plumbline_build_info"), ""}},
		},
		{
			kind: rows, title: "Setup", unit: "short", width: 12, height: 5, hide: []string{"Value"},
			description: "The setup file that is judged by; the same checksum is in every result.",
			queries:     []query{{own("plumbline_setup_info"), ""}},
		},
	}
}
