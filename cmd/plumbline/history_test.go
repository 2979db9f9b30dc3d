package main

import (
	"os"
	"strings"
	"testing"
)

// TestHistory: the results of a folder by serial number; a broken file is told of and makes the exit code 3.
func TestHistory(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "first.log", "--seed", "1")
	if err := os.MkdirAll("tests/20231114T221320Z-Minibus-7-0123ABCD", 0o755); err != nil {
		t.Fatal(err)
	}
	call(t, "replay", "one.yaml", "first.log", "-f", "json", "-o", "tests/20231114T221320Z-Minibus-7-0123ABCD/result.json")
	got := call(t, "history", "tests")
	if got.code != 0 || !strings.Contains(got.out, "Transducer 40117 · 1 test, 2023-11-14") || got.errors != "" {
		t.Errorf("exit code %d: %s\n%s", got.code, got.errors, got.out)
	}
	if other := call(t, "history", "tests", "--serial", "7"); other.code != 3 || strings.Contains(other.out, "40117") {
		t.Errorf("of another number: exit code %d:\n%s", other.code, other.out)
	}
	put(t, "tests/broken.json", "{")
	broken := call(t, "history", "tests", "-f", "html", "-o", "history.html")
	page, err := os.ReadFile("history.html")
	if err != nil || broken.code != 3 || !strings.Contains(string(page), "broken.json could not be used") || !strings.Contains(string(page), "40117") {
		t.Errorf("exit code %d, %v, %d bytes", broken.code, err, len(page))
	}
}
