package dbc

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// candied is the version of the npm package that is compared with.
const candied = "2.2.0"

// TestNpm compares values with the npm package candied, which reads and decodes
// DBC files by itself: same file, same random payloads, same values to the last
// bit. What it does otherwise stands in testdata/npm-decode/decode.mjs.
func TestNpm(t *testing.T) {
	folder := npmFolder(t)
	for _, name := range []string{"hub.dbc", "extended-multiplex.dbc", "switch-and-value.dbc", "motorola-signed.dbc"} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(testdata, name)
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			file, err := Parse(name, text)
			if err != nil {
				t.Fatal(err)
			}
			compareNpm(t, file, folder, path)
		})
	}
}

func compareNpm(t *testing.T, file *File, folder, path string) {
	t.Helper()
	type asked struct {
		message *Message
		data    []byte
	}
	rng := rand.New(rand.NewPCG(7, 8))
	var all []asked
	var frames [][2]any
	for i := range file.Messages {
		m := &file.Messages[i]
		for range 1000 {
			data := randomBytes(rng, m.Length)
			for i := range min(3, len(data)) {
				if rng.IntN(2) == 0 {
					data[i] = byte(rng.IntN(10)) // pages are numbered from 0
				}
			}
			numbers := make([]int, len(data)) // bytes would become base64
			for i, b := range data {
				numbers[i] = int(b)
			}
			all = append(all, asked{m, data})
			frames = append(frames, [2]any{m.Name, numbers})
		}
	}
	input, err := json.Marshal(frames)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "node", "../../testdata/npm-decode/decode.mjs", folder, path)
	cmd.Stdin, cmd.Stderr = bytes.NewReader(input), os.Stderr
	output, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []map[string]*float64
	if err := json.Unmarshal(output, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != len(all) {
		t.Fatalf("got %d answers for %d frames", len(want), len(all))
	}
	compared := map[string]bool{}
	for i, a := range all {
		values, short := planOf(t, a.message).Decode(0, frame(a.message.ID, a.data...), nil)
		if short || len(values) == 0 {
			t.Fatalf("message %s: %d values, short %v", a.message.Name, len(values), short)
		}
		for _, v := range values {
			name := a.message.Signals[v.Channel].Name
			if w := want[i][name]; w == nil || *w != v.Value {
				t.Fatalf("%s.%s of % x: got %v, candied has %v", a.message.Name, name, a.data, v.Value, w)
			}
			compared[a.message.Name+"."+name] = true
		}
	}
	for i := range file.Messages {
		for j := range file.Messages[i].Signals {
			if name := file.Messages[i].Name + "." + file.Messages[i].Signals[j].Name; !compared[name] {
				t.Errorf("%s was never compared", name)
			}
		}
	}
}

// npmFolder returns the folder in which the package is installed, installing it
// if need be. Without node, npm or their registry the test is skipped, but not
// where everything is expected to be there (CI=true).
func npmFolder(t *testing.T) string {
	t.Helper()
	missing := t.Skipf
	if os.Getenv("CI") == "true" {
		missing = t.Fatalf
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = t.TempDir()
	}
	folder := filepath.Join(cache, "plumbline-npm")
	if _, err := exec.LookPath("node"); err != nil {
		missing("node is missing: install Node.js 18 or later to compare with an independent decoder (%v)", err)
	}
	var installed struct{ Version string }
	description, err := os.ReadFile(filepath.Join(folder, "node_modules", "candied", "package.json"))
	if err == nil && json.Unmarshal(description, &installed) == nil && installed.Version == candied {
		return folder
	}
	install := exec.CommandContext(t.Context(), "npm", "install", "--prefix", folder, "--no-audit", "--no-fund", "--ignore-scripts", "candied@"+candied)
	if output, err := install.CombinedOutput(); err != nil {
		missing("candied is missing: run %v, then this test compares with an independent decoder (%v: %s)", install, err, output)
	}
	return folder
}
