package setup

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
)

// firsts are sets of DBC files in several styles, with what setup check says
// of the setup that is made of them. The setups stand in new/NAME.yaml.
func firsts() []struct {
	name  string
	paths []string
	want  []string // texts of the faults up to the colon or comma, in order
} {
	return []struct {
		name  string
		paths []string
		want  []string
	}{
		{"hub", []string{"../clean-four/hub.dbc"}, []string{
			"vehicle is missing", "corner FL has no load_n", "corner FR has no load_n", "corner RL has no load_n", "corner RR has no load_n",
			"optic Bar1 has two heights and no baseline_m",
		}},
		{"one-hub", []string{"../clean-one-fixed/hub.dbc"}, []string{
			"vehicle is missing", "corner W1 has no load_n", "optic Bar1 has two heights and no baseline_m",
		}},
		{"capitals", []string{"capitals.dbc"}, []string{"vehicle is missing", "corner FL has no load_n", "corner FR has no load_n"}},
		{"words", []string{"words.dbc"}, []string{
			"vehicle is missing", "corner front_left has no load_n", "corner rear_right has no load_n",
			"optic Optics has two heights and no baseline_m",
		}},
		{"two-buses", []string{"signals.dbc", "other-bus.dbc"}, []string{
			"vehicle is missing",
			"corner 1L has fx and no fz", "corner 1L has no load_n", "corner 1R has fx and no fz", "corner 1R has no load_n",
		}},
		{"nothing", []string{"nothing.dbc"}, []string{"vehicle is missing", "no corners"}},
	}
}

// TestWrite compares first setups with those that were looked at, and what
// setup check then says with what a person has still to write.
func TestWrite(t *testing.T) {
	dir := filepath.Join(testdata, "new")
	read := func(path string) ([]byte, error) { return os.ReadFile(filepath.Join(dir, path)) }
	for _, row := range firsts() {
		t.Run(row.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Write(&b, row.paths, read); err != nil {
				t.Fatal(err)
			}
			got, path := b.String(), filepath.Join(dir, row.name+".yaml")
			if *update {
				if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatalf("%v: look at what is written and run with -update", err)
			}
			if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			_, err = Parse("setup.yaml", b.Bytes(), read)
			faults, _ := errors.AsType[Faults](err)
			var texts []string
			for _, f := range faults {
				text, _, _ := strings.Cut(f.Text, ":")
				texts = append(texts, text)
			}
			if diff := cmp.Diff(row.want, texts); diff != "" {
				t.Errorf("faults of the first setup (-want +got):\n%s", diff)
			}
		})
	}
}

// TestWriteCompleted completes the first setup of a recording as its comments
// say, and compares what it binds with the setup that stands beside the recording.
func TestWriteCompleted(t *testing.T) {
	dir := filepath.Join(testdata, "clean-four")
	read := func(path string) ([]byte, error) { return os.ReadFile(filepath.Join(dir, path)) }
	var b bytes.Buffer
	if err := Write(&b, []string{"hub.dbc"}, read); err != nil {
		t.Fatal(err)
	}
	completed := regexp.MustCompile(`(?m)# (vehicle|load_n|baseline_m|wheel_mass_kg|angle_counts)(: .*?) *<- .*$`).ReplaceAllString(b.String(), "$1$2")
	got, err := Parse("setup.yaml", []byte(completed), read)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Warnings) > 0 {
		t.Errorf("got warnings %q, want none", got.Warnings)
	}
	want, err := Load(filepath.Join(dir, "setup.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	signals := func(s *Setup) map[string]string {
		m := map[string]string{}
		add := func(owner string, c *checks.Channels) {
			for q, i := range c {
				if i != checks.None {
					m[owner+" "+checks.Quantity(q).String()] = s.Checks.Channels[i].Name
				}
			}
		}
		for i := range s.Checks.Corners {
			add(s.Checks.Corners[i].Name, &s.Checks.Corners[i].Channels)
		}
		for i := range s.Checks.Optics {
			add(opticKinds()[s.Checks.Optics[i].Kind], &s.Checks.Optics[i].Channels)
		}
		return m
	}
	if diff := cmp.Diff(signals(want), signals(got)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestWriteErrors names the files that cannot be used, and writes nothing.
func TestWriteErrors(t *testing.T) {
	var b bytes.Buffer
	err := Write(&b, []string{testdata + "/bad/broken.dbc", testdata + "/none.dbc"}, nil)
	for _, want := range []string{"broken.dbc:6:11: ", "none.dbc: no such file"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q in it", err, want)
		}
	}
	if err := Write(&b, nil, nil); err == nil || !strings.Contains(err.Error(), "no DBC file") {
		t.Errorf("got %v, want that no file was given", err)
	}
	if b.Len() > 0 {
		t.Errorf("got %d bytes written, want none", b.Len())
	}
}
