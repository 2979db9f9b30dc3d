//go:build unix

package packaging

import (
	"errors"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestCrash shows why the unit sets GOTRACEBACK: a panic on a goroutine of its own ends with 2, which the
// unit takes for a setup that cannot be used and does not start again; with the setting it ends by a signal.
func TestCrash(t *testing.T) {
	if os.Getenv("PLUMBLINE_CRASH") != "" {
		go panic("on purpose")
		time.Sleep(10 * time.Second)
		return
	}
	var setting string
	for _, line := range settings(read(t, "plumbline.service")) {
		if value, ok := strings.CutPrefix(line, "Environment="); ok {
			setting = value
		}
	}
	crash := func(env ...string) syscall.WaitStatus {
		c := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestCrash$")
		c.Env = append(slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "GOTRACEBACK=") }), "PLUMBLINE_CRASH=1")
		c.Env = append(c.Env, env...)
		c.Dir = t.TempDir() // a core file goes with it
		err := c.Run()
		failed, ok := errors.AsType[*exec.ExitError](err)
		if !ok {
			t.Fatalf("got %v, want a crash", err)
		}
		return failed.Sys().(syscall.WaitStatus)
	}
	if s := crash(); s.ExitStatus() != 2 {
		t.Errorf("without the setting: exit code %d, want 2; then the unit needs it no more", s.ExitStatus())
	}
	if s := crash(setting); !s.Signaled() || s.Signal() != syscall.SIGABRT {
		t.Errorf("with %q: exit code %d, want SIGABRT", setting, s.ExitStatus())
	}
}
