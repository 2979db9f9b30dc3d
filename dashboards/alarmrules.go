package dashboards

// Alarms that no check raises by itself.

func daemonAlarms() []alarm {
	return []alarm{
		{
			name: "PlumblineDown", runbook: "plumbline-down", severity: Critical, scope: scopeDaemon, forTime: "5s",
			expr:        `up{job="plumbline"} == 0`,
			summary:     "plumbline does not answer at {{ $labels.instance }}",
			description: "Nothing is judged, and probably nothing is recorded. This runbook is served by plumbline itself; a copy lies beside the rules.",
		},
		{
			name: "PlumblineStands", runbook: "plumbline-stands", severity: Critical, scope: scopeDaemon, forTime: "5s",
			expr:        ofVehicle("(changes(plumbline_snapshot_timestamp_seconds[10s]) == bool 0)") + "\n== 1\nunless on (instance) plumbline_ended == 1",
			summary:     "plumbline answers but judges nothing new on {{ $labels.vehicle }}",
			description: "The event time of {{ $labels.instance }} has not moved for 10 s: what its page and these boards show is old.",
		},
		{
			name: "PlumblineJudgesLate", runbook: "judges-late", severity: Warning, scope: scopeDaemon, forTime: "15s",
			expr: "(\n  histogram_sum(rate(plumbline_source_frame_age_seconds[30s])) / histogram_count(rate(plumbline_source_frame_age_seconds[30s]))\n" +
				"  or rate(plumbline_source_frame_age_seconds_sum[30s]) / rate(plumbline_source_frame_age_seconds_count[30s])\n) > 0.5",
			summary:     "Frames of {{ $labels.source }} are judged late at {{ $labels.instance }}",
			description: "They are {{ $value | humanizeDuration }} old on average. The computer has too little time for plumbline, or its clock and that of the adapter disagree.",
		},
	}
}

func sourceAlarms() []alarm {
	return []alarm{
		{
			// the first look of all has heard nothing yet; what this one keeps back waits for longer
			name: "PlumblineAmplifierOff", runbook: "amplifier-off", severity: Critical, scope: scopeVehicle, forTime: "1s",
			expr: untilEnded(ofVehicle(`(max by (instance) (plumbline_sensor_up{kind="corner"}) == bool 0)`)+"\n== 1") + "\nor\n" +
				untilEnded(ofVehicle(`plumbline_cause_active{id=~"(source-off|bit-rate|baud-rate|adapters-exchanged)(:.+)?"}`)+"\n== 1"),
			summary:     "Nothing usable comes from the amplifier of {{ $labels.vehicle }}",
			description: "{{ with $labels.id }}The cause is {{ . }}.{{ else }}No wheel is heard any more.{{ end }} All channels behind it fail; their alarms are kept back until this one is over.",
		},
		{
			name: "PlumblineUnplugged", runbook: "unplugged", severity: Critical, scope: scopeChannel, forTime: "3s",
			expr:        untilEnded(ofVehicle(`(plumbline_sensor_up == bool 0)`) + "\n== 1"),
			summary:     "Nothing comes from {{ $labels.subject }} of {{ $labels.vehicle }}",
			description: "Others are heard, this one is not: its plug, its cable, or the supply of its electronics.",
		},
		{
			name: "PlumblineSourceDown", runbook: "source-down", severity: Critical, scope: scopeSource, forTime: "2s",
			expr:        untilEnded(ofVehicle("(plumbline_source_up == bool 0)") + "\n== 1"),
			summary:     "{{ $labels.source }} of {{ $labels.vehicle }} cannot be heard",
			description: "The bus or port {{ $labels.source }} is silent, down, gone or bus-off. The board Bus and daemon shows which.",
		},
		{
			name: "PlumblineFramesLost", runbook: "frames-lost", severity: Warning, scope: scopeSource,
			expr:        ofVehicle(`increase(plumbline_source_lost_frames_total{place!="recorder"}[1m])`) + "\n> 0",
			summary:     "Frames of {{ $labels.source }} are lost at the place: {{ $labels.place }}",
			description: "{{ $value | humanize }} frames in the last minute on {{ $labels.vehicle }}. They are neither judged nor recorded.",
		},
		{
			name: "PlumblineBusFull", runbook: "bus-full", severity: Warning, scope: scopeSource, forTime: "10s",
			expr:        ofVehicle("avg_over_time(plumbline_source_load_ratio[10s])") + "\n> 0.8",
			summary:     "{{ $labels.source }} of {{ $labels.vehicle }} is {{ $value | humanizePercentage }} full",
			description: "Frames of low priority wait from about 80 % on and may get lost.",
		},
	}
}

// onTheRoad is 1 for each instance whose vehicle drives.
const onTheRoad = `plumbline_drive_active`

func driveAlarms() []alarm {
	return []alarm{
		{
			name: "PlumblineDriftNear", runbook: "drift", severity: Warning, scope: scopeChannel, forTime: "30s",
			expr:        "label_replace(\n" + ofVehicle("(\n  "+driftShare(anyone, anyone)+"\n)") + ",\n\"subject\", \"$1\", \"corner\", \"(.+)\"\n) > 0.7 <= 1",
			summary:     "The zero of {{ $labels.subject }} {{ $labels.channel }} has drifted by {{ $value | humanizePercentage }} of its limit",
			description: "It is not beyond its limit yet. Plan a stop, compare with the temperature of {{ $labels.subject }}, and turn the lifted wheel again after the drive.",
		},
		{
			name: "PlumblineDriveUntested", runbook: "drive-untested", severity: Warning, scope: scopeVehicle, forTime: "1m",
			expr:        ofVehicle("(plumbline_open_findings > 0 and on (instance) "+onTheRoad+" == 1)") + "\n> 0",
			summary:     "{{ $labels.vehicle }} drives with an unfinished function test",
			description: "{{ $value }} required findings are still open: what is recorded now rests on channels that nobody has proved.",
		},
	}
}

func recordingAlarms() []alarm {
	return []alarm{
		{
			name: "PlumblineRecordingStopped", runbook: "recording-stopped", severity: Critical, scope: scopeDaemon,
			expr:        ofVehicle(`plumbline_recording_state{state="stopped"}`) + "\n== 1",
			summary:     "Recording has stopped on {{ $labels.vehicle }}",
			description: "The disk is full or failed. Judging goes on, but nothing is kept.",
		},
		{
			name: "PlumblineNotRecorded", runbook: "not-recorded", severity: Warning, scope: scopeVehicle, forTime: "30s",
			expr:        ofVehicle(`(plumbline_recording_state{state="disabled"} == 1 and on (instance) `+onTheRoad+" == 1)") + "\n== 1",
			summary:     "{{ $labels.vehicle }} drives and nothing is recorded",
			description: "plumbline was started without a folder to record into.",
		},
		{
			name: "PlumblineRecorderLoses", runbook: "recorder-loses", severity: Critical, scope: scopeSource,
			expr:        ofVehicle(`increase(plumbline_source_lost_frames_total{place="recorder"}[1m])`) + "\n> 0",
			summary:     "The recording of {{ $labels.source }} has gaps",
			description: "{{ $value | humanize }} frames in the last minute were judged but not written: the disk is too slow.",
		},
		{
			name: "PlumblineDiskFills", runbook: "disk-fills", severity: Warning, scope: scopeDaemon, forTime: "30s",
			expr:        ofVehicle("(\n  predict_linear(plumbline_recording_free_bytes[5m], 1800) - on (instance) plumbline_recording_reserve_bytes\n)") + "\n< 0",
			summary:     "The disk of {{ $labels.vehicle }} is full in half an hour",
			description: "At the present rate recording stops within 30 minutes.",
		},
	}
}
