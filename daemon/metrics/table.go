package metrics

import (
	"slices"

	"plumbline/checks"
	"plumbline/daemon"
)

// What a metric needs to be there, where several need the same.
const (
	whenRecording = "recording"
	whenFailed    = "it ever failed"
	whenHeard     = "the message has come"
	whenWindow    = "a value came in the window"
	whenWheelAxes = "a value came in the window; rotating forces need an angle"
)

// Table returns every metric that the exporter has beside those of process and Go, in the order
// of METRICS.md.
func Table() []Metric {
	return slices.Concat(programTable(), verdictTable(), sourceTable(), messageTable(), channelTable(), cornerTable(), recordingTable(), limitTable())
}

func programTable() []Metric {
	return []Metric{
		{
			Name: "plumbline_build_info", Type: Info, Labels: []string{"program", "version", "revision", "goversion"}, read: build,
			Help: "What this program was built from.", When: "always, before there is a snapshot too",
		},
		{
			Name: "plumbline_setup_info", Type: Info, Labels: []string{"vehicle", "file", "sha256"}, read: setupInfo,
			Help: "The setup file that is judged by.",
		},
		{
			Name: "plumbline_snapshot_timestamp_seconds", Unit: "seconds", read: snapshotTime,
			Help: "Event time of the snapshot that all other values are from.", When: "event time is known",
		},
		{
			Name: "plumbline_ended", read: ended,
			Help: "Whether what was listened to has ended by itself, as a demo does: nothing newer comes until a new test begins.",
		},
		{
			Name: "plumbline_judging_duration_seconds", Type: Histogram, Unit: "seconds", read: judging, bounds: doublings(-12, -11, -10, -9, -8, -7, -6, -5, -4, -2, 0),
			Help: "How long it took to make verdicts and values out of the evidence, five times a second.", When: "listening live",
		},
	}
}

func verdictTable() []Metric {
	finding := []string{"check", "subject", "channel"}
	return []Metric{
		{
			Name: "plumbline_verdict", Type: StateSet, Labels: []string{"verdict"}, read: overall,
			Help: "Verdict of all checks together: pass, fail, inconclusive or absent.",
		},
		{
			Name: "plumbline_check_verdict", Type: StateSet, Labels: []string{"check", "subject", "channel", "verdict"}, read: verdicts,
			Help: "Verdict of each check on each subject and channel; all that are known in advance are there from the start. An empty channel is the whole subject.",
		},
		{
			Name: "plumbline_open_findings", Unit: "findings", read: open,
			Help: "Findings that hold the overall verdict back because they are required and not decided yet.",
		},
		{
			Name: "plumbline_finding_failures_total", Type: Counter, Unit: "failures", Labels: finding,
			read: failed(func(f *daemon.Failed) float64 { return float64(f.Count) }),
			Help: "How often a finding began to fail.", When: whenFailed,
		},
		{
			Name: "plumbline_finding_first_failure_timestamp_seconds", Unit: "seconds", Labels: finding,
			read: failed(func(f *daemon.Failed) float64 { return seconds(int64(f.First)) }),
			Help: "Event time at which a finding failed first.", When: whenFailed,
		},
		{
			Name: "plumbline_finding_last_failure_timestamp_seconds", Unit: "seconds", Labels: finding,
			read: failed(func(f *daemon.Failed) float64 { return seconds(int64(f.Last)) }),
			Help: "Event time at which a finding failed last; it goes on while that is now. A verdict of fail may be of what is over.", When: whenFailed,
		},
		{
			Name: "plumbline_drive_active", read: driveActive,
			Help: "Whether the vehicle drives, as it is recognised from the signals. Traffic lights belong to a drive.",
		},
		{
			Name: "plumbline_drive_start_timestamp_seconds", Unit: "seconds", read: driveStart,
			Help: "Event time at which the newest drive began.", When: "there was a drive",
		},
		{
			Name: "plumbline_drive_end_timestamp_seconds", Unit: "seconds", read: driveEnd,
			Help: "Event time at which the vehicle last rolled in the newest drive.", When: "there was a drive",
		},
		{
			Name: "plumbline_cause_active", Labels: []string{"id"}, read: causes,
			Help: "A cause that explains findings, always 1. Its id is its kind, a colon and its subjects.", When: "the cause is found",
		},
	}
}

func sourceTable() []Metric {
	source := []string{"source"}
	return []Metric{
		{
			Name: "plumbline_source_up", Labels: source, read: sourceUp,
			Help: "Whether the source can be heard, by its link; where nothing tells the link, whether a wanted message came within 3 s.",
		},
		{
			Name: "plumbline_sensor_up", Labels: []string{"subject", "kind"}, read: sensorUp,
			Help: "Whether any message of a wheel (kind corner) or of an optical sensor (kind optic) came within 1.5 s or three periods.",
		},
		{
			Name: "plumbline_source_link_state", Type: StateSet, Labels: []string{"source", "state"}, read: linkState,
			Help: "State of the bus or port as its reader tells it; unknown where nothing tells.",
		},
		{
			Name: "plumbline_source_judged_frames_total", Type: Counter, Unit: "frames", Labels: source, read: judgedFrames,
			Help: "Frames of messages in the setup that were judged.",
		},
		{
			Name: "plumbline_source_received_frames_total", Type: Counter, Unit: "frames", Labels: source, read: receivedFrames,
			Help: "Frames heard, whether or not the setup wants them. What is not recorded is asked of a CAN bus only as far as the setup wants it.",
		},
		{
			Name: "plumbline_source_load_ratio", Unit: "ratio", Labels: source, read: busLoad,
			Help: "Share of the last second that the frames heard took of the bus, with all stuff bits that there can be. Without a recording the frames that the setup does not want are not in it.",
			When: "a CAN source whose bit rate is known",
		},
		{
			Name: "plumbline_source_frame_age_seconds", Type: Histogram, Unit: "seconds", Labels: source, read: frameAge, bounds: doublings(-10, -8, -6, -4, -3, -2, -1, 0, 2, 4),
			Help: "How old the first frame of each batch was when the batch had been judged.", When: "listening live",
		},
		{
			Name: "plumbline_source_written_frames_total", Type: Counter, Unit: "frames", Labels: source, read: writtenFrames,
			Help: "Frames that are safe on the disk.", When: whenRecording,
		},
		{
			Name: "plumbline_source_pending_frames", Unit: "frames", Labels: source, read: pendingFrames,
			Help: "Frames heard that are on their way to the disk.", When: whenRecording,
		},
		{
			Name: "plumbline_source_lost_frames_total", Type: Counter, Unit: "frames", Labels: []string{"source", "place"}, read: lostFrames,
			Help: "Frames lost, by the place on the way from the bus where that was. Those lost at the recorder were judged, and are there only while recording.",
		},
		{
			Name: "plumbline_source_error_frames_total", Type: Counter, Unit: "frames", Labels: source, read: errorFrames,
			Help: "Error frames of a CAN bus.", When: "a CAN source",
		},
		{
			Name: "plumbline_source_received_bytes_total", Type: Counter, Unit: "bytes", Labels: source, read: receivedBytes,
			Help: "Bytes heard from a serial port.", When: "recording, a serial source",
		},
		{
			Name: "plumbline_source_discarded_bytes_total", Type: Counter, Unit: "bytes", Labels: source, read: discardedBytes,
			Help: "Bytes of a serial port that belonged to no valid frame.", When: "a serial source",
		},
	}
}

func messageTable() []Metric {
	message := []string{"source", "message"}
	return []Metric{
		{
			Name: "plumbline_message_frames_total", Type: Counter, Unit: "frames", Labels: message, read: messageFrames,
			Help: "Frames of each message in the setup; its rate is the rate of the message.",
		},
		{
			Name: "plumbline_message_lost_frames_total", Type: Counter, Unit: "frames", Labels: message, read: messageLost,
			Help: "Frames of a message that are missing by the gaps between time stamps.",
		},
		{
			Name: "plumbline_message_period_seconds", Unit: "seconds", Labels: message, read: messagePeriod,
			Help: "Time between two frames that gaps are counted by: as described, or as it is kept where that is more than 10 % off.", When: "described, or 64 frames have come",
		},
		{
			Name: "plumbline_message_longest_gap_seconds", Unit: "seconds", Labels: message, read: messageGap,
			Help: "Longest time between two frames since the start.", When: "two frames have come",
		},
		{
			Name: "plumbline_message_last_timestamp_seconds", Unit: "seconds", Labels: message, read: messageLast,
			Help: "Event time of the newest frame.", When: whenHeard,
		},
	}
}

func channelTable() []Metric {
	var out []Metric
	for _, u := range units() {
		for _, s := range statistics() {
			if s.noise && !u.noise {
				continue
			}
			out = append(out, Metric{
				Name: "plumbline_channel_" + s.word + "_" + u.word, Unit: u.word, Labels: []string{"subject", "channel", "window"}, read: channels(u, s),
				Help: s.help, When: whenWindow,
			})
		}
	}
	return out
}

func cornerTable() []Metric {
	corner, of := []string{"corner"}, []string{"corner", "channel"}
	out := []Metric{
		{
			Name: "plumbline_corner_hang_state", Type: StateSet, Labels: []string{"corner", "state"}, read: hangState,
			Help: "Whether the wheel is lifted or loaded, by its radial force.",
		},
		{
			Name: "plumbline_corner_turning", Labels: corner, read: turning,
			Help: "Whether the wheel turns.", When: "an angle comes",
		},
		{
			Name: "plumbline_corner_angular_velocity_radians_per_second", Unit: "radians_per_second", Labels: corner, read: velocity,
			Help: "Speed of the wheel by its angle, positive forward.", When: "an angle comes",
		},
		{
			Name: "plumbline_corner_turns", Unit: "turns", Labels: []string{"corner", "direction"}, read: turns,
			Help: "Turns done while lifted, with the part under way, which is taken back where it breaks off.",
		},
		{
			Name: "plumbline_corner_force_mean_newtons", Unit: "newtons", Labels: of, read: force(func(w *checks.Window) float64 { return w.Mean }),
			Help: "Mean force of the last second in wheel axes, which do not turn with the wheel: fx forward, fy left, fz up.", When: whenWheelAxes,
		},
		{
			Name: "plumbline_corner_force_minimum_newtons", Unit: "newtons", Labels: of, read: force(func(w *checks.Window) float64 { return w.Low }),
			Help: "Lowest force of the last second in wheel axes.", When: whenWheelAxes,
		},
		{
			Name: "plumbline_corner_force_maximum_newtons", Unit: "newtons", Labels: of, read: force(func(w *checks.Window) float64 { return w.High }),
			Help: "Highest force of the last second in wheel axes.", When: whenWheelAxes,
		},
		{
			Name: "plumbline_corner_force_noise_newtons", Unit: "newtons", Labels: of, read: force(func(w *checks.Window) float64 { return positive(w.Noise) }),
			Help: "White noise of the last second in wheel axes, as plumbline_channel_noise_newtons: what turns with the wheel is not in it.", When: whenWheelAxes,
		},
		{
			Name: "plumbline_corner_vertical_force_newtons", Type: Histogram, Unit: "newtons", Labels: corner, read: verticalForce, bounds: every(10, 16),
			Help: "Vertical force of the wheel on the ground, every value that was sent.", When: "the wheel stood on the ground, and its forces are known in wheel axes",
		},
		{
			Name: "plumbline_corner_temperature_celsius", Unit: "celsius", Labels: corner, read: temperature,
			Help: "Newest temperature of the electronics.", When: "a value came within 5 s or three periods",
		},
		{
			Name: "plumbline_corner_supply_volts", Unit: "volts", Labels: corner, read: supply,
			Help: "Newest supply voltage.", When: "a value came within 5 s or three periods",
		},
	}
	// Values of findings, each with its expanded uncertainty of 95 %.
	for _, m := range []struct {
		check, word, unit, si, help string
		labels                      []string
	}{
		{"zero", "zero_offset", "newtons", "N", "What the channel reads without load, in rotating axes for fx and fz.", of},
		{"zero", "zero_offset", "newton_meters", "N·m", "What the channel reads without load, in rotating axes for mx and mz.", of},
		{"angle-offset", "angle_offset", "radians", "rad", "Transmitted angle less the true one.", corner},
		{"drift", "drift", "newtons", "N", "How far what should stay has moved since the start of the drive: the zero of a component in rotating axes, or its mean at standstill; where it was beyond the limit and came back, how far it had been.", of},
		{"drift", "drift", "newton_meters", "N·m", "How far what should stay has moved since the start of the drive: the zero of a component in rotating axes, or its mean at standstill; where it was beyond the limit and came back, how far it had been.", of},
		{"drift", "drift", "ratio", "", "Of channel noise how many times the noise at rest is that of the start of the drive, of channel rate the share of the frames per second that has been lost since.", of},
		{"drift", "drift", "celsius", "K", "How far the temperature has gone since the start of the drive.", of},
		{"noise", "rest_noise", "newtons", "N", "Scatter at rest, as it is judged.", of},
		{"noise", "rest_noise", "newton_meters", "N·m", "Scatter at rest, as it is judged.", of},
		{"weight", "weight", "ratio", "", "Measured weight of the hanging wheel to the one in the setup.", corner},
		{"axes", "axes", "ratio", "", "Unequal sensitivity and oblique angle of the radial axes.", corner},
		{"drag", "drag", "newton_meters", "N·m", "Friction about the axle.", corner},
		{"load", "load", "newtons", "N", "Contact load at rest.", corner},
		{"skew", "skew", "seconds", "s", "How much later the angle is than the force.", corner},
		{"radius", "rolling_radius", "meters", "m", "Rolling radius on a straight roll.", corner},
		{"agreement", "agreement", "ratio", "", "Turns on a straight roll to those of the other wheels, less 1.", corner},
	} {
		for _, part := range []struct {
			suffix, help string
			read         func(*sink)
		}{
			{"", m.help, found(m.check, m.si, len(m.labels), false)},
			{"_uncertainty", "Expanded uncertainty, 95 %, of plumbline_corner_" + m.word + "_" + m.unit + ".", found(m.check, m.si, len(m.labels), true)},
		} {
			out = append(out, Metric{
				Name: "plumbline_corner_" + m.word + part.suffix + "_" + m.unit, Unit: m.unit, Labels: m.labels, read: part.read,
				Help: part.help, When: "the check " + m.check + " knows it",
			})
		}
	}
	return out
}

func recordingTable() []Metric {
	return []Metric{
		{
			Name: "plumbline_recording_state", Type: StateSet, Labels: []string{"state"}, read: recordingState,
			Help: "What the recorder does; disabled where nothing is to be recorded.",
		},
		{
			Name: "plumbline_recording_bytes", Unit: "bytes", read: recordingBytes,
			Help: "Bytes of this session that are safe on the disk.", When: whenRecording,
		},
		{
			Name: "plumbline_recording_parts", Unit: "parts", read: recordingParts,
			Help: "Parts of this session with something in them.", When: whenRecording,
		},
		{
			Name: "plumbline_recording_free_bytes", Unit: "bytes", read: recordingFree,
			Help: "Bytes free on the disk.", When: "recording, on a system that tells it",
		},
		{
			Name: "plumbline_recording_reserve_bytes", Unit: "bytes", read: recordingReserve,
			Help: "Free bytes below which recording stops.", When: whenRecording,
		},
		{
			Name: "plumbline_recording_stops_total", Type: Counter, Unit: "stops", read: recordingStops,
			Help: "How often recording was stopped by the disk.", When: whenRecording,
		},
		{
			Name: "plumbline_recording_removed_parts_total", Type: Counter, Unit: "parts", read: recordingRemoved,
			Help: "Old parts removed to keep the bound of the folder.", When: whenRecording,
		},
	}
}
