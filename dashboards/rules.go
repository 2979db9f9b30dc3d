package dashboards

import (
	"bytes"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Group is one group of Prometheus rules, as its file holds it.
type Group struct {
	Name  string `yaml:"name"`
	Rules []Rule `yaml:"rules"`
}

// Rule is a recording rule or, with Alert, an alerting rule.
type Rule struct {
	Record      string            `yaml:"record,omitempty"`
	Alert       string            `yaml:"alert,omitempty"`
	Expr        string            `yaml:"expr"`
	For         string            `yaml:"for,omitempty"`
	Labels      map[string]string `yaml:"labels,omitempty"`
	Annotations map[string]string `yaml:"annotations,omitempty"`
}

// Severities of alarms.
const (
	Critical = "critical" // data are being lost or are worthless from here on: stop and look
	Warning  = "warning"  // look at it when there is time, before the next drive at the latest
)

// Scopes of alarms: what inhibits what depends on them.
const (
	scopeChannel = "channel" // of a wheel or sensor
	scopeSource  = "source"  // of a bus or port
	scopeVehicle = "vehicle"
	scopeDaemon  = "daemon"
)

// Groups returns all rules: what boards of many vehicles ask, and the alarms.
func Groups() []Group {
	alerts := Group{Name: "plumbline-alerts"}
	for _, a := range alarms() {
		alerts.Rules = append(alerts.Rules, a.rule())
	}
	return []Group{{Name: "plumbline-recording", Rules: records()}, alerts}
}

// ofVehicle gives series the name of the vehicle that their instance listens in. Each instance has one at a time.
func ofVehicle(expr string) string {
	return expr + "\n* on (instance) group_left (vehicle) plumbline_setup_info"
}

// untilEnded keeps an alarm for half a minute after what was listened to has ended by itself, as a demo does. Then its time
// stands still: what failed at the end would have been so just now for ever, and nobody can mend it.
func untilEnded(expr string) string {
	return expr + "\nunless on (instance) min_over_time(plumbline_ended[30s]) == 1"
}

// anyone selects the series of all instances.
func anyone(metric string, matchers ...string) string {
	if len(matchers) == 0 {
		return metric
	}
	return metric + "{" + strings.Join(matchers, ",") + "}"
}

// records are made once for all who ask. Their names say what is left of the labels, what it is, and how it was put together.
func records() []Rule {
	driving := ofVehicle("plumbline_drive_active")
	lost := ofVehicle(`rate(plumbline_source_lost_frames_total[1m])`)
	heard := ofVehicle(`rate(plumbline_source_received_frames_total[1m])`)
	verdict := "(\n  3 * plumbline_verdict{verdict=\"fail\"}\n  or 2 * plumbline_verdict{verdict=\"inconclusive\"}\n  or plumbline_verdict{verdict=\"pass\"}\n)"
	return []Rule{
		{Record: "vehicle:plumbline_driving:max", Expr: "max by (vehicle) (\n" + driving + "\n)"},
		{Record: "vehicle:plumbline_verdict:max", Expr: "max by (vehicle) (\n" + ofVehicle(verdict) + "\n)"},
		{Record: "vehicle:plumbline_open_findings:sum", Expr: "sum by (vehicle) (\n" + ofVehicle("plumbline_open_findings") + "\n)"},
		{Record: "vehicle_subject_check:plumbline_failing_findings:sum", Expr: "sum by (vehicle, subject, check) (\n" + ofVehicle(`plumbline_check_verdict{verdict="fail"}`) + "\n)"},
		{Record: "vehicle:plumbline_failing_findings:sum", Expr: "sum by (vehicle) (vehicle_subject_check:plumbline_failing_findings:sum)"},
		{Record: "vehicle_corner_channel:plumbline_drift_of_limit:max", Expr: "max by (vehicle, corner, channel) (\n" + ofVehicle("(\n  "+driftShare(anyone, anyone)+"\n)") + "\n)"},
		{Record: "vehicle:plumbline_drift_of_limit:max", Expr: "max by (vehicle) (vehicle_corner_channel:plumbline_drift_of_limit:max)"},
		{Record: "vehicle:plumbline_frames_lost:ratio_rate1m", Expr: fmt.Sprintf("sum by (vehicle) (\n%s\n)\n/ (sum by (vehicle) (\n%s\n) > 0)", lost, heard)},
	}
}

// rulesYAML writes one group as a file of Prometheus.
func rulesYAML(g *Group) ([]byte, error) {
	return toYAML(map[string][]Group{"groups": {*g}})
}

func toYAML(v any) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("# Written by plumbline dashboards; do not edit here.\n")
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return b.Bytes(), e.Close()
}
