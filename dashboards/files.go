package dashboards

import (
	"bytes"
	_ "embed" // the text of README.md
	"fmt"
	"os"
	"path"
	"path/filepath"
	"text/template"
)

//go:embed README.tmpl
var readmeText string

// File is one file of what is built.
type File struct {
	Name string // with slashes
	Data []byte
}

// Files builds all files: boards, rules, configurations, runbooks and the README.md that says what they are for.
func Files() ([]File, error) {
	readme, err := readmeFile()
	if err != nil {
		return nil, err
	}
	out := []File{
		{"README.md", readme},
		{"alertmanager/alertmanager.yml", []byte(alertmanagerConfig)},
		{"grafana/provisioning/dashboards/plumbline.yml", []byte(dashboardProvisioning)},
		{"grafana/provisioning/datasources/plumbline.yml", []byte(datasourceProvisioning)},
		{"prometheus/agent.yml", []byte(agentConfig)},
		{"prometheus/fleet.yml", []byte(fleetConfig)},
		{"prometheus/prometheus.yml", []byte(prometheusConfig)},
	}
	for _, b := range Boards() {
		text, err := b.JSON()
		if err != nil {
			return nil, err
		}
		out = append(out, File{"grafana/dashboards/" + b.Name + ".json", text})
	}
	for _, g := range Groups() {
		text, err := rulesYAML(&g)
		if err != nil {
			return nil, fmt.Errorf("rules %s: %w", g.Name, err)
		}
		out = append(out, File{"prometheus/rules/" + g.Name + ".yml", text})
	}
	for _, name := range RunbookNames() {
		text, err := Runbook(name)
		if err != nil {
			return nil, err
		}
		out = append(out, File{"runbooks/" + name + ".md", text})
	}
	return out, nil
}

// readmeFile lists the alarms and what is on no board.
func readmeFile() ([]byte, error) {
	type row struct {
		Rule

		Runbook string
	}
	var rows []row
	for _, a := range alarms() {
		rows = append(rows, row{a.rule(), a.runbook})
	}
	t, err := template.New("README.md").Parse(readmeText)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = t.Execute(&b, struct {
		Alarms  []row
		LeftOut []leftOut
	}{rows, leftOuts()})
	return append(bytes.TrimRight(b.Bytes(), "\n"), '\n'), err
}

// Write writes all files below the folder dir, which it makes where it is missing. A file of the same name is replaced.
func Write(dir string) ([]File, error) {
	files, err := Files()
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		name := filepath.Join(dir, filepath.FromSlash(f.Name))
		if err := os.MkdirAll(filepath.Join(dir, filepath.FromSlash(path.Dir(f.Name))), 0o755); err != nil {
			return nil, fmt.Errorf("dashboards: %w", err)
		}
		if err := os.WriteFile(name, f.Data, 0o644); err != nil { //nolint:gosec // for Grafana and Prometheus to read
			return nil, fmt.Errorf("dashboards: %w", err)
		}
	}
	return files, nil
}
