package metrics

import "strings"

// Markdown returns the table as METRICS.md holds it.
func Markdown() string {
	var b strings.Builder
	b.WriteString("# Metrics\n\n" +
		"Made of `daemon/metrics/table.go` by `go test ./daemon/metrics -update`; do not edit.\n\n" +
		"Every value is from one snapshot; its event time is `plumbline_snapshot_timestamp_seconds`. A value that is not known is missing. " +
		"Of a state set the state that is so is 1 and all others are 0. Corners, sources, messages and channels are named as in the setup. " +
		"Windows are whole seconds of event time: `1s` the last one, `10s` the last ten. " +
		"A histogram comes as a native one to a Prometheus that asks for it (`--enable-feature=native-histograms`), else in some of the same buckets. " +
		"The metrics of process and Go (`process_*`, `go_*`) come beside these.\n\n" +
		"| name | type | unit | labels | what it tells | there when |\n| --- | --- | --- | --- | --- | --- |\n")
	for _, m := range Table() {
		labels := ""
		if len(m.Labels) > 0 {
			labels = "`" + strings.Join(m.Labels, "` `") + "`"
		}
		b.WriteString("| `" + strings.Join([]string{m.Name + "`", m.Type.String(), m.Unit, labels, m.Help, m.When}, " | ") + " |\n")
	}
	return b.String()
}
