package results

import (
	"bytes"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/bus/simulated"
	"plumbline/daemon/setup"
)

// TestSetupFiles: a setup whose files lie elsewhere is found again in the folder of the test.
func TestSetupFiles(t *testing.T) {
	cfg := simulated.Standard(1)
	dbc := cfg.DBCs()[0].Text
	parse := func(t *testing.T, text string) *setup.Setup {
		t.Helper()
		s, err := setup.Parse("/home/x/one.yaml", []byte(text), func(string) ([]byte, error) { return []byte(dbc), nil })
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for path, want := range map[string]string{
		"vehicle.dbc": "vehicle.dbc", "dbc/deep/a b.dbc": "dbc/deep/a b.dbc", "x/../vehicle.dbc": "vehicle.dbc",
		"/etc/plumbline/Wheels 2.DBC": "files/01-wheels-2.dbc", "../dbc/vehicle.dbc": "files/01-vehicle.dbc",
		"result.json": "files/01-result.json", "recording/x.dbc": "files/01-x.dbc", "setup.yaml": "files/01-setup.yaml", "SHA256SUMS": "files/01-sha256sums",
	} {
		t.Run(path, func(t *testing.T) {
			s := parse(t, strings.ReplaceAll(cfg.SetupYAML(), "vehicle.dbc", path))
			files := setupFiles(s)
			got := map[string][]byte{}
			for _, f := range files {
				if !filepath.IsLocal(f.name) || got[f.name] != nil {
					t.Errorf("%q leaves the folder, or stands twice", f.name)
				}
				got[f.name] = f.text
			}
			if string(got[want]) != dbc {
				t.Errorf("no %s with what was read", want)
			}
			moved := strings.HasPrefix(want, "files/")
			if asRead := got["setup-as-read.yaml"]; moved != (asRead != nil) || asRead != nil && !bytes.Equal(asRead, s.Text) || !moved && !bytes.Equal(got["setup.yaml"], s.Text) {
				t.Error("the setup as it was read is not there")
			}
			again, err := setup.Parse("setup.yaml", got["setup.yaml"], func(name string) ([]byte, error) {
				if text, ok := got[filepath.ToSlash(name)]; ok {
					return text, nil
				}
				return nil, fs.ErrNotExist
			})
			if err != nil || len(again.Bindings) != len(s.Bindings) {
				t.Errorf("the setup in the folder: %v", err)
			}
		})
	}
}
