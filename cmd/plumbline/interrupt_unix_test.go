//go:build unix

package main

import (
	"os"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestInterrupt: Ctrl-C ends a demo that would go on for minutes.
func TestInterrupt(t *testing.T) {
	yard(t, nil)
	done := make(chan called)
	began := time.Now()
	go func() { done <- call(t, "demo", "--speed", "1", "--corners", "1", "--record", "drive.log") }()
	time.Sleep(300 * time.Millisecond)
	if err := syscall.Kill(os.Getpid(), syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	got := <-done
	if got.code != exitInterrupted || got.errors != "plumbline: interrupted, nothing was judged to its end\n" {
		t.Errorf("got exit code %d, %q", got.code, got.errors)
	}
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("took %v", took)
	}
	if text, err := os.ReadFile("drive.log"); err != nil || strings.Count(string(text), "\n") < 10 || !strings.HasSuffix(string(text), "\n") {
		t.Errorf("what was recorded until then: got %d bytes, %v", len(text), err)
	}
}
