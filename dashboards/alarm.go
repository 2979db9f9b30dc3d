package dashboards

import (
	"maps"
	"strings"
)

// alarm is one alerting rule. Its expression keeps the label instance: the runbook is served there.
type alarm struct {
	name            string
	runbook         string // name of its file in runbooks/, without .md
	severity, scope string
	expr, forTime   string
	summary         string
	description     string
	labels          map[string]string
}

func (a *alarm) rule() Rule {
	labels := map[string]string{"severity": a.severity, "scope": a.scope}
	maps.Copy(labels, a.labels)
	return Rule{
		Alert: a.name, Expr: a.expr, For: a.forTime, Labels: labels,
		Annotations: map[string]string{
			"summary": a.summary, "description": a.description,
			"runbook_url": "http://{{ $labels.instance }}/runbooks/" + a.runbook,
		},
	}
}

// alarms are all of them, the most urgent first.
func alarms() []alarm {
	out := append(daemonAlarms(), sourceAlarms()...)
	for _, c := range checkAlarms() {
		out = append(out, c.alarm())
	}
	return append(append(out, driveAlarms()...), recordingAlarms()...)
}

// checkAlarm is an alarm that is raised when one of some checks fails, and for half a minute after, so that what comes and goes
// is heard of too. A finding that stays for what is over raises none. Each check belongs to one of them.
type checkAlarm struct {
	name, runbook string
	severity      string
	summary, what string
	checks        []string
	scope         string // empty: a channel
}

func (c *checkAlarm) alarm() alarm {
	pattern := strings.Join(c.checks, "|")
	scope := c.scope
	if scope == "" {
		scope = scopeChannel
	}
	return alarm{
		// by then it is known whether the wheel, or all of them, went silent, which keeps this one back
		name: c.name, runbook: c.runbook, severity: c.severity, scope: scope, forTime: "4s",
		expr:        untilEnded(ofVehicle("(\n  plumbline_snapshot_timestamp_seconds\n  - on (instance) group_right () plumbline_finding_last_failure_timestamp_seconds{check=~\"" + pattern + "\"}\n  < 30\n)")),
		summary:     c.summary + " on {{ $labels.vehicle }}: {{ $labels.subject }} {{ $labels.channel }}",
		description: "The check {{ $labels.check }} failed for {{ $labels.subject }} {{ $labels.channel }} of {{ $labels.vehicle }} within the last 30 s. " + c.what + " The sentence with the figures is on the page at http://{{ $labels.instance }}/.",
	}
}

// checkAlarms say of which check which alarm is raised.
func checkAlarms() []checkAlarm {
	return []checkAlarm{
		{
			name: "PlumblineMessageMissing", runbook: "message-missing", severity: Critical, checks: []string{"alive"}, summary: "Messages are missing",
			what: "Messages do not arrive, come too seldom or with gaps: what they carry is not in the recording either.",
		},
		{
			name: "PlumblineBusFault", runbook: "bus-fault", severity: Critical, scope: scopeSource, checks: []string{"bus"}, summary: "Bus fault",
			what: "Error frames, frames lost on the way, or a link that is down.",
		},
		{
			name: "PlumblineWrongPlace", runbook: "wrong-place", severity: Critical, checks: []string{"identity", "placement"}, summary: "A plug or transducer sits on the wrong corner",
			what: "Everything recorded of it is filed under another wheel.",
		},
		{
			name: "PlumblineChannelBad", runbook: "channel-bad", severity: Critical, checks: []string{"frozen", "clipped", "range", "noise", "spikes", "hum", "status"}, summary: "A channel is bad",
			what: "Its values since then are not to be used.",
		},
		{
			name: "PlumblineAngleWrong", runbook: "angle-wrong", severity: Critical, summary: "The rotation angle is wrong",
			checks: []string{"angle-offset", "angle-sense", "angle-steps", "angle-jumps", "angle-slip", "angle-stuck", "angle-spin", "skew"},
			what:   "Forces in wheel axes are turned by that error: vertical force leaks into the longitudinal one.",
		},
		{
			name: "PlumblineSupply", runbook: "supply", severity: Critical, checks: []string{"supply"}, summary: "Supply voltage out of range",
			what: "Zero and sensitivity follow the supply; the electronics may restart.",
		},
		{
			name: "PlumblineTemperature", runbook: "temperature", severity: Warning, checks: []string{"temperature"}, summary: "Electronics too hot or too cold",
			what: "The zero moves with temperature. A hot wheel can be a brake that binds.",
		},
		{
			name: "PlumblineDrift", runbook: "drift", severity: Critical, checks: []string{"drift"}, summary: "The zero has drifted",
			what: "The zero of the rotating axes has moved by more than its limit since the start of the drive.",
		},
		{
			name: "PlumblineZeroOff", runbook: "zero-off", severity: Warning, checks: []string{"zero", "weight", "axes"}, summary: "Zero or scale is off",
			what: "The turn of the lifted wheel shows a zero, a weight or axes beyond the limit.",
		},
		{
			name: "PlumblineWheelDrags", runbook: "wheel-drags", severity: Warning, checks: []string{"drag"}, summary: "A wheel drags",
			what: "Friction about the axle is beyond its limit: brake, bearing, or a pick-up ring that rubs.",
		},
		{
			name: "PlumblineRing", runbook: "pick-up-ring", severity: Warning, checks: []string{"coupling"}, summary: "Errors bunch at one angle",
			what: "What goes wrong goes wrong at one place of the turn: the pick-up ring is not aligned.",
		},
		{
			name: "PlumblineGround", runbook: "ground", severity: Warning, checks: []string{"load", "radius", "agreement"}, summary: "Load or rolling does not fit the setup",
			what: "Contact load, rolling radius or the way of the wheels do not agree with the setup or with each other.",
		},
		{
			name: "PlumblineOptics", runbook: "optics", severity: Warning, checks: []string{"clearance", "camber", "dropout", "rest-speed", "slip"}, summary: "An optical sensor is off",
			what: "Height, camber, dropouts or speed at rest are beyond their limit.",
		},
	}
}
