package main

import (
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"plumbline/daemon"
)

// TestServiceSigns: a service is signed, begun anew and signed again while frames go on arriving. Each folder
// replays to what was signed, nothing is lost between them, and what was confirmed survives a restart.
func TestServiceSigns(t *testing.T) {
	t.Parallel() // it waits most of the time
	dir := t.TempDir()
	program := programFile(t)
	args := []string{"--listen", "127.0.0.1:0", "--results", dir}
	s := serve(t, program, nil, args...)
	s.await(t, 1, `"msg":"page"`)
	page := func(log string) *visitor {
		_, rest, _ := strings.Cut(log, `"url":"`)
		address, _, _ := strings.Cut(rest, `"`)
		return &visitor{url: address}
	}
	v := page(s.text(t))
	heard := func(frames int64) {
		t.Helper()
		for from := s.sent.Load(); s.sent.Load() < from+frames; {
			time.Sleep(20 * time.Millisecond)
		}
	}
	heard(300)
	v.send(t, "/confirm", url.Values{"id": {"cable"}, "initials": {"AB"}})
	v.sign(t)
	heard(100)
	v.afresh(t)
	heard(300)
	v.send(t, "/confirm", url.Values{"id": {"wheel-bolts"}, "value": {"12"}, "initials": {"CD"}})
	v.sign(t)
	last := s.end(t)
	if c := last.Confirmations[0]; c.State != daemon.StateOpen || c.Value == nil || *c.Value != 12 {
		t.Errorf("the result at the end has %+v, want what was read off, open", c)
	}
	tests := signedTests(t, dir)
	if len(tests) != 2 {
		t.Fatalf("signed tests %q, want 2\n%s", tests, s.text(t))
	}
	one, two := sameAgain(t, tests[0]), sameAgain(t, tests[1])
	if one.Confirmations[0].Value != nil || two.Confirmations[0].Value == nil || two.Captures[0].First <= one.Captures[0].Last {
		t.Errorf("confirmations %+v, then %+v", one.Confirmations[0], two.Confirmations[0])
	}
	sessions, err := os.ReadDir(filepath.Join(dir, "recording"))
	if err != nil || len(sessions) < 3 {
		t.Errorf("%v, %d parts, want one for each stretch", err, len(sessions))
	}

	again := exec.CommandContext(t.Context(), program, append([]string{"run", s.setup, "--log-format", "json"}, args...)...)
	var log said
	again.Stderr = &log
	if err := again.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = again.Process.Signal(syscall.SIGTERM)
		_ = again.Wait()
	}()
	log.await(t, `"msg":"the test under way goes on`, 1)
	log.await(t, `"msg":"listening"`, 1)
	v = page(log.String())
	for range 100 {
		if steps := v.get(t, "/steps"); strings.Contains(steps, "12 N·m, CD") && strings.Contains(steps, "Signed by A. Berg") {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Errorf("after a restart the page does not know what was confirmed and signed:\n%s", log.String())
}
