package compare

import (
	"bytes"
	"encoding/json"
	"testing"

	"plumbline/daemon"
)

// FuzzCompare: whatever two files hold, what they are read as can be compared, written and read again, and is never
// unmoved where nothing could be compared.
func FuzzCompare(f *testing.F) {
	encoded := func(r *daemon.Result) []byte {
		var out bytes.Buffer
		if err := daemon.Encode(&out, []daemon.Result{*r}); err != nil {
			f.Fatal(err)
		}
		return out.Bytes()
	}
	f.Add(encoded(result(nil)), encoded(result(later)))
	f.Add(encoded(result(nil)), encoded(result(swap)))
	f.Add([]byte(`{"schema": 1, "findings": [{"check": "zero", "subject": "FL", "value": 1e308, "uncertainty": 1e308, "parts": {"scatter": 1e308, "dof": 1e-300}}]}`),
		[]byte(`{"schema": 1, "findings": [{"check": "zero", "subject": "FL", "value": -1e308, "uncertainty": 0}]}`))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		before, errA := daemon.Decode(bytes.NewReader(a))
		after, errB := daemon.Decode(bytes.NewReader(b))
		if errA != nil || errB != nil || len(before) == 0 || len(after) == 0 {
			return
		}
		c := compared(&before[0], &after[0])
		if c.Chance.Compared == 0 && (c.Verdict != Open || c.ExitCode(false) != daemon.ExitInconclusive) {
			t.Errorf("of nothing: %s, exit code %d", c.Verdict, c.ExitCode(false))
		}
		var out bytes.Buffer
		if err := c.Encode(&out); err != nil {
			t.Fatal(err)
		}
		var back Comparison
		if err := json.Unmarshal(out.Bytes(), &back); err != nil {
			t.Fatal(err)
		}
	})
}
