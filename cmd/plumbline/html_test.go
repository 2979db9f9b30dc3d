package main

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"
)

// TestReplayHTML: the report of a recording names it by its hash and draws what
// its wheels did, and is the same each time.
func TestReplayHTML(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "good.log")
	first := call(t, "replay", "one.yaml", "good.log", "--format", "html")
	if first.code != 0 || first.errors != "" {
		t.Fatalf("got exit code %d: %s", first.code, first.errors)
	}
	if again := call(t, "replay", "one.yaml", "good.log", "--format", "html"); again.out != first.out {
		t.Error("the same recording gives another report")
	}
	text, err := os.ReadFile("good.log")
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(text)
	for _, want := range []string{"<!DOCTYPE html>", hex.EncodeToString(sum[:]), `class="verdict pass"`, `class="fit"`, "It hangs with", "End of report PL-"} {
		if !strings.Contains(first.out, want) {
			t.Errorf("the report does not have %q", want)
		}
	}
	failed := call(t, "replay", "one.yaml", "good.log", "gone.log", "-f", "html")
	if failed.code == 0 || !strings.Contains(failed.out, "The recording could not be judged.") || !strings.Contains(failed.out, "2 of 2: gone.log") {
		t.Errorf("got exit code %d and %d bytes, want a report that says what is missing", failed.code, len(failed.out))
	}
}
