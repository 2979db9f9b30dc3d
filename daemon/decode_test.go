package daemon

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestDecode: what Encode wrote is read again, one and several.
func TestDecode(t *testing.T) {
	for name, n := range map[string]int{"one.json": 1, "several.json": 2, "none.json": 0} {
		text, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		results, err := Decode(bytes.NewReader(text))
		if err != nil || len(results) != n {
			t.Errorf("%s: got %d results, %v, want %d", name, len(results), err, n)
			continue
		}
		var out bytes.Buffer
		if err := Encode(&out, results); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(out.String(), string(text)); diff != "" {
			t.Errorf("%s: got before want:\n%s", name, diff)
		}
	}
}

// TestDecodeRefuses: what is no result, or a broken one, is never taken for one.
func TestDecodeRefuses(t *testing.T) {
	tests := []struct {
		name, text, want string
		other            bool // sound JSON of another kind
	}{
		{"empty", " \n", "empty", false},
		{"cut off", `{"schema": 1, "findings": [`, "unexpected end", false},
		{"no JSON", `<html>`, "invalid character", false},
		{"another kind", `{"name": "x"}`, "not a result", true},
		{"a comparison", `{"schema": 1, "kind": "comparison", "findings": []}`, "not a result", true},
		{"a number", `7`, "not a result", true},
		{"later", `{"schema": 2, "findings": []}`, "schema 2, this program reads 1", false},
		{"unknown verdict", `{"schema": 1, "findings": [], "verdict": "fine"}`, "expected pass, fail", false},
		{"negative uncertainty", `{"schema": 1, "findings": [{"check": "zero", "subject": "FL", "uncertainty": -1}]}`, "zero/FL has a negative uncertainty", false},
		{"negative part", `{"schema": 1, "findings": [{"check": "zero", "subject": "FL", "parts": {"scatter": -1, "dof": 5}}]}`, "negative part", false},
		{"pass of nothing", `{"schema": 1, "findings": [], "verdict": "pass"}`, "pass without findings", false},
		{"one of two", `[{"schema": 1, "findings": []}, {"schema": 3, "findings": []}]`, "result 2 of 2", false},
	}
	for _, test := range tests {
		_, err := Decode(strings.NewReader(test.text))
		if err == nil || !strings.Contains(err.Error(), test.want) || errors.Is(err, ErrNoResult) != test.other {
			t.Errorf("%s: got %v, want %q", test.name, err, test.want)
		}
	}
}
