package dashboards

import (
	"bytes"
	"cmp"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"plumbline/checks"
)

// TestEachCheckHasOneAlarm: a check that is new must be given to an alarm.
func TestEachCheckHasOneAlarm(t *testing.T) {
	raised := map[string]int{}
	for _, a := range checkAlarms() {
		for _, name := range a.checks {
			raised[name]++
		}
	}
	for _, c := range checks.All() {
		if raised[c.Name] != 1 {
			t.Errorf("%d alarms are raised for the check %s, want 1", raised[c.Name], c.Name)
		}
		delete(raised, c.Name)
	}
	for name := range raised {
		t.Errorf("there is no check %s", name)
	}
}

// TestAlarms: each says how urgent it is, what is so and where to read on.
func TestAlarms(t *testing.T) {
	for _, g := range Groups() {
		for _, r := range g.Rules {
			if r.Alert == "" {
				continue
			}
			if s := r.Labels["severity"]; s != Critical && s != Warning {
				t.Errorf("%s: severity %q", r.Alert, s)
			}
			if !slices.Contains([]string{scopeChannel, scopeSource, scopeVehicle, scopeDaemon}, r.Labels["scope"]) {
				t.Errorf("%s: scope %q", r.Alert, r.Labels["scope"])
			}
			for _, a := range []string{"summary", "description", "runbook_url"} {
				if r.Annotations[a] == "" {
					t.Errorf("%s: no %s", r.Alert, a)
				}
			}
		}
	}
}

// TestInhibitionNamesAlarms: an alarm that the Alertmanager example names exists.
func TestInhibitionNamesAlarms(t *testing.T) {
	names := map[string]bool{}
	for _, a := range alarms() {
		names[a.name] = true
	}
	found := regexp.MustCompile(`Plumbline\w+`).FindAllString(alertmanagerConfig, -1)
	for _, name := range found {
		if !names[name] {
			t.Errorf("there is no alarm %s", name)
		}
	}
	if len(found) < 10 {
		t.Errorf("found %v", found)
	}
}

// TestChecked lets promtool and amtool read what is written.
func TestChecked(t *testing.T) {
	promtool, amtool := tool(t, "promtool", "prometheus"), tool(t, "amtool", "prometheus-alertmanager")
	dir := written(t)
	for _, c := range [][]string{
		{promtool, "check", "rules", "prometheus/rules/plumbline-alerts.yml", "prometheus/rules/plumbline-recording.yml"},
		{promtool, "check", "config", "prometheus/prometheus.yml"},
		{promtool, "check", "config", "prometheus/fleet.yml"},
		{promtool, "check", "config", "--agent", "prometheus/agent.yml"},
		{amtool, "check-config", "alertmanager/alertmanager.yml"},
	} {
		cmd := exec.CommandContext(t.Context(), c[0], c[1:]...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", strings.Join(c[1:], " "), err, out)
		}
	}
}

// series is one input of a rule: what it is while all is well, while it is not, and when it is well again, if that is not as before.
type series struct{ name, well, bad, after string }

// alarmCase is what makes one alarm be raised.
type alarmCase struct {
	alarm string
	input []series
}

const (
	wheel = `instance="a:1",job="plumbline"`
	road  = `plumbline_drive_active{` + wheel + `}`
)

// alarmCases has a row for each alarm, with names and labels as the exporter has them.
func alarmCases() []alarmCase {
	p := func(name, labels string) string {
		if labels != "" {
			labels += ","
		}
		return name + "{" + labels + wheel + "}"
	}
	driving := []series{{road, "1", "1", ""}}
	out := []alarmCase{
		{"PlumblineDown", []series{{p("up", ""), "1", "0", ""}}},
		{"PlumblineStands", []series{{p("plumbline_snapshot_timestamp_seconds", ""), "5+5", "same", ""}, {p("plumbline_ended", ""), "0", "0", ""}}},
		{"PlumblineJudgesLate", []series{
			{p("plumbline_source_frame_age_seconds_sum", `source="wheels"`), "0+2.5", "30+450", ""},
			{p("plumbline_source_frame_age_seconds_count", `source="wheels"`), "0+300", "3600+300", ""},
		}},
		{"PlumblineAmplifierOff", []series{{p("plumbline_sensor_up", `subject="FL",kind="corner"`), "1", "0", ""}, {p("plumbline_sensor_up", `subject="road",kind="optic"`), "1", "1", ""}}},
		{"PlumblineAmplifierOff", []series{{p("plumbline_cause_active", `id="bit-rate:wheels"`), "_", "1", ""}}},
		{"PlumblineUnplugged", []series{{p("plumbline_sensor_up", `subject="FL",kind="corner"`), "1", "0", ""}, {p("plumbline_sensor_up", `subject="FR",kind="corner"`), "1", "1", ""}}},
		{"PlumblineSourceDown", []series{{p("plumbline_source_up", `source="wheels"`), "1", "0", ""}}},
		{"PlumblineFramesLost", []series{{p("plumbline_source_lost_frames_total", `source="wheels",place="queue"`), "5", "10+3", ""}}},
		{"PlumblineRecorderLoses", []series{{p("plumbline_source_lost_frames_total", `source="wheels",place="recorder"`), "5", "10+3", ""}}},
		{"PlumblineBusFull", []series{{p("plumbline_source_load_ratio", `source="wheels"`), "0.55", "0.9", ""}}},
		{"PlumblineDriftNear", []series{
			{p("plumbline_corner_drift_newtons", `corner="FL",channel="fx"`), "10", "-50", ""},
			{p("plumbline_limit_newtons", `limit="drift_force",bound="upper"`), "60", "60", ""},
			{p("plumbline_limit_newtons", `limit="zero_force",bound="upper"`), "1", "1", ""},
		}},
		{"PlumblineDriftNear", []series{
			{p("plumbline_corner_drift_newton_meters", `corner="FL",channel="mx"`), "1", "9", ""},
			{p("plumbline_limit_newton_meters", `limit="drift_moment",bound="upper"`), "12", "12", ""},
		}},
		{"PlumblineDriveUntested", append([]series{{p("plumbline_open_findings", ""), "0", "7", ""}}, driving...)},
		{"PlumblineDriveUntested", []series{{road, "0", "1", ""}, {p("plumbline_open_findings", ""), "7", "7", ""}}},
		{"PlumblineRecordingStopped", []series{{p("plumbline_recording_state", `state="stopped"`), "0", "1", ""}}},
		{"PlumblineNotRecorded", append([]series{{p("plumbline_recording_state", `state="disabled"`), "0", "1", ""}}, driving...)},
		{"PlumblineDiskFills", []series{
			{p("plumbline_recording_free_bytes", ""), "5e10-5e4", "4e10-2.5e8", ""},
			{p("plumbline_recording_reserve_bytes", ""), "1e9", "1e9", ""},
		}},
	}
	for _, a := range checkAlarms() {
		var in []series
		for _, check := range a.checks {
			in = append(in, series{p("plumbline_finding_last_failure_timestamp_seconds", `check="`+check+`",subject="FL",channel="fx"`), "_", "60+5", "175"})
		}
		clock, ended := p("plumbline_snapshot_timestamp_seconds", ""), p("plumbline_ended", "")
		out = append(out, alarmCase{a.name, append(slices.Clip(in), series{clock, "0+5", "60+5", "180+5"}, series{ended, "0", "0", ""})})
		// a demo that fails to its very end
		out = append(out, alarmCase{a.name, append(slices.Clip(in), series{clock, "0+5", "60+5", "180"}, series{ended, "0", "0", "1"})})
	}
	end := series{p("plumbline_ended", ""), "0", "0", "1"}
	return append(
		out,
		alarmCase{"PlumblineAmplifierOff", []series{{p("plumbline_sensor_up", `subject="FL",kind="corner"`), "1", "0", "0"}, end}},
		alarmCase{"PlumblineAmplifierOff", []series{{p("plumbline_cause_active", `id="source-off:wheels"`), "_", "1", "1"}, end}},
		alarmCase{"PlumblineUnplugged", []series{{p("plumbline_sensor_up", `subject="camber FL",kind="optic"`), "1", "0", "0"}, end}},
		alarmCase{"PlumblineSourceDown", []series{{p("plumbline_source_up", `source="wheels"`), "1", "0", "0"}, end}},
	)
}

// quietCases are what looks bad and raises no alarm.
func quietCases() []alarmCase {
	return []alarmCase{
		{"PlumblineStands", []series{{"plumbline_snapshot_timestamp_seconds{" + wheel + "}", "5+5", "same", ""}, {"plumbline_ended{" + wheel + "}", "0", "1", ""}}},
	}
}

// TestRules lets promtool play each alarm: well for a minute, bad for two, well again. It is not raised at first, raised once
// its time is up, with the labels that routes and runbooks need, and over some while after it is well again. In a quiet case
// it is never raised.
func TestRules(t *testing.T) {
	promtool := tool(t, "promtool", "prometheus")
	dir := written(t)
	type sample struct {
		Labels string  `yaml:"labels"`
		Value  float64 `yaml:"value"`
	}
	type query struct {
		Expr     string   `yaml:"expr"`
		EvalTime string   `yaml:"eval_time"`
		Samples  []sample `yaml:"exp_samples,omitempty"`
	}
	type input struct {
		Series string `yaml:"series"`
		Values string `yaml:"values"`
	}
	type unit struct {
		Name     string  `yaml:"name"`
		Interval string  `yaml:"interval"`
		Input    []input `yaml:"input_series"`
		Queries  []query `yaml:"promql_expr_test"`
	}
	file := struct {
		Files    []string `yaml:"rule_files"`
		Interval string   `yaml:"evaluation_interval"`
		Tests    []unit   `yaml:"tests"`
	}{Files: []string{filepath.Join(dir, "prometheus/rules/plumbline-alerts.yml")}, Interval: "5s"}
	tried := map[string]bool{}
	const step, well, bad = 5, 60, 120
	cases := alarmCases()
	loud := len(cases)
	for k, c := range append(cases, quietCases()...) {
		tried[c.alarm] = true
		i := slices.IndexFunc(alarms(), func(a alarm) bool { return a.name == c.alarm })
		if i < 0 {
			t.Errorf("there is no alarm %s", c.alarm)
			continue
		}
		a := alarms()[i]
		// rates over a minute and predictions need as long as they look back
		const patience = 45
		after := 100.0
		if c.alarm == "PlumblineDiskFills" { // looks back for five minutes
			after = 330
		}
		hold, _ := time.ParseDuration("0" + a.forTime)
		u := unit{Name: c.alarm, Interval: "5s", Input: []input{{`plumbline_setup_info{vehicle="Minibus 7",file="x.yaml",sha256="1",` + wheel + `}`, "1x200"}}}
		for _, s := range c.input {
			u.Input = append(u.Input, input{s.name, values(s, well/step, bad/step)})
		}
		count := `count by (severity, instance) (ALERTS{alertname="` + c.alarm + `",alertstate="firing"})`
		n := 1.0
		if strings.Contains(c.input[0].name, "check=") {
			n = float64(len(c.input) - 2) // one alarm for each check, none for clock and end
		}
		raised := []sample{{`{instance="a:1", severity="` + a.severity + `"}`, n}}
		if k >= loud {
			raised = nil
		}
		u.Queries = []query{
			{Expr: count, EvalTime: seconds(well - step)},
			{Expr: count, EvalTime: seconds(well + hold.Seconds() + patience), Samples: raised},
			{Expr: count, EvalTime: seconds(well + bad - step), Samples: raised},
			{Expr: count, EvalTime: seconds(well + bad + after)},
		}
		if k < loud && a.name != "PlumblineDown" && a.name != "PlumblineJudgesLate" {
			u.Queries = append(u.Queries, query{
				Expr:     `count by (vehicle) (ALERTS{alertname="` + c.alarm + `",alertstate="firing"})`,
				EvalTime: seconds(well + bad - step), Samples: []sample{{`{vehicle="Minibus 7"}`, n}},
			})
		}
		if k < loud && a.scope == scopeChannel { // what keeps a wheel's alarms back goes by this label
			u.Queries = append(u.Queries, query{
				Expr:     `count(ALERTS{alertname="` + c.alarm + `",alertstate="firing",subject!=""})`,
				EvalTime: seconds(well + bad - step), Samples: []sample{{`{}`, n}},
			})
		}
		file.Tests = append(file.Tests, u)
	}
	for _, a := range alarms() {
		if !tried[a.name] {
			t.Errorf("%s: no row of alarmCases tries it: give it one with the series while all is well and while it is not", a.name)
		}
	}
	text, err := yaml.Marshal(file)
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "test.yml")
	if err := os.WriteFile(name, text, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), promtool, "test", "rules", name).CombinedOutput()
	if err != nil || !bytes.Contains(out, []byte("SUCCESS")) {
		t.Errorf("%v\n%s\nexp is what is wanted. The label vehicle comes of ofVehicle about the expression; "+
			"subject is a label of every alarm whose scope is channel", err, out)
	}
}

func seconds(s float64) string { return strconv.Itoa(int(s)) + "s" }

// values writes a series in the notation of promtool: A+BxN begins at A and rises N times by B.
func values(s series, well, bad int) string {
	expand := func(text string, n int) string {
		if text == "_" {
			return "_x" + strconv.Itoa(n)
		}
		return text + "x" + strconv.Itoa(n-1)
	}
	middle := expand(s.bad, bad)
	after := expand(cmp.Or(s.after, s.well), 80)
	if s.after == "" && s.well == "_" {
		after = "stale " + after // it is exported no more
	}
	if s.bad == "same" {
		middle = "60x" + strconv.Itoa(bad-1)
	}
	return expand(s.well, well) + " " + middle + " " + after
}
