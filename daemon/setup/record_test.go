package setup

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus/simulated"
)

// parseWith reads the setup of a simulated vehicle with something changed.
func parseWith(t *testing.T, change func(text string) string) *Setup {
	t.Helper()
	cfg := simulated.Standard(1)
	dbcs := map[string]string{}
	for _, f := range cfg.DBCs() {
		dbcs[f.Name] = f.Text
	}
	s, err := Parse("folder/one.yaml", []byte(change(cfg.SetupYAML())), func(name string) ([]byte, error) {
		text, ok := dbcs[filepath.Base(name)]
		if !ok {
			return nil, os.ErrNotExist
		}
		return []byte(text), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestRecord(t *testing.T) {
	for _, test := range []struct {
		text string
		want *Record
	}{
		{"", nil},
		{"record: {dir: recordings}", &Record{Dir: "folder/recordings"}},
		{`record: {dir: /var/lib/plumbline, keep: 20 GB, part: "15 min", zstd: true}`, &Record{Dir: "/var/lib/plumbline", Keep: 20_000_000_000, PartTime: 15 * time.Minute, Zstd: true}},
		{"record: {dir: /r, keep: 1.5 GiB, part: 100 MB}", &Record{Dir: "/r", Keep: 3 << 29, PartBytes: 100_000_000}},
		{"record: {dir: /r, keep: 2tb, part: 0.5 h}", &Record{Dir: "/r", Keep: 2_000_000_000_000, PartTime: 30 * time.Minute}},
	} {
		if diff := cmp.Diff(parseWith(t, func(text string) string { return text + "\n" + test.text + "\n" }).Record, test.want); diff != "" {
			t.Errorf("%s: got before want:\n%s", test.text, diff)
		}
	}
}

func TestMeasures(t *testing.T) {
	for text, want := range map[string]int64{
		"1 kB": 1000, "1 KiB": 1024, "3MiB": 3 << 20, "1.5 gb": 1_500_000_000,
		"": 0, "20": 0, "GB": 0, "-1 GB": 0, "1 PB": 0, "1e3 GB": 0, "1 G B": 0, "0 GB": 0, "9999999999 TB": 0, "1..5 GB": 0, "NaN GB": 0,
	} {
		if got, ok := size(text); got != want || ok != (want > 0) {
			t.Errorf("size %q: got %d, %v, want %d", text, got, ok, want)
		}
	}
	for text, want := range map[string]time.Duration{
		"15 min": 15 * time.Minute, "90s": 90 * time.Second, "1.5 h": 90 * time.Minute, "15 m": 0, "15": 0, "0 s": 0, "1 H": 0,
	} {
		if got, ok := timeSpan(text); got != want || ok != (want > 0) {
			t.Errorf("time %q: got %v, %v, want %v", text, got, ok, want)
		}
	}
}

// TestAdapter: a CAN source that is found by its adapter is called as can says, else by its own name.
func TestAdapter(t *testing.T) {
	for _, test := range []struct{ from, way, iface, match, adapter string }{
		{"can: can0", `adapter: "0123ABC"`, "wheels", "wheels", "0123ABC"},
		{"can: can0", `can: can7, adapter: 1-2.3/1`, "can7", "can7", "1-2.3/1"},
		{"can: can0", `adapter: A1, match: can3, stamps: hardware`, "wheels", "can3", "A1"},
	} {
		s := parseWith(t, func(text string) string {
			if !strings.Contains(text, test.from) {
				t.Fatalf("no %s in\n%s", test.from, text)
			}
			text = strings.Replace(text, test.from, test.way, 1)
			return text
		})
		got := s.Sources[0]
		if got.Hardware != strings.Contains(test.way, "hardware") {
			t.Errorf("%s: hardware %v", test.way, got.Hardware)
		}
		if got.Kind != CAN || got.Adapter != test.adapter || got.Interface != strings.Replace(test.iface, "wheels", got.Name, 1) || got.Match != strings.Replace(test.match, "wheels", got.Name, 1) {
			t.Errorf("%s: got %+v", test.way, got)
		}
	}
}

func TestNear(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, dir := range []string{"recordings/day1", "many"} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"recordings/day1/before.log", "minibus.yaml", ".hidden.yaml"} {
		if err := os.WriteFile(name, nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"a.dbc", "b.dbc", "c.dbc", "d.dbc"} { // any of which may be meant
		if err := os.WriteFile(filepath.Join("many", name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for path, want := range map[string]string{
		"minbus.yaml":                ": did you mean minibus.yaml",
		"recordings/day1/befor.log":  ": did you mean recordings/day1/before.log",
		"recording/day1/before.log":  ": there is no folder recording: did you mean recordings",
		"recordings/day1/after.pcap": "",
		"hidden.yaml":                ": the folder has minibus.yaml",
		"many/wheels.dbc":            "",
	} {
		if got := Near(path); got != want {
			t.Errorf("%s: got %q, want %q", path, got, want)
		}
	}
}
