package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// pseudoTerminal opens a terminal whose other end stands for a serial adapter.
func pseudoTerminal(t *testing.T) (master *os.File, slave string) {
	t.Helper()
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	master = os.NewFile(uintptr(fd), "ptmx")
	t.Cleanup(func() { _ = master.Close() })
	return master, fmt.Sprintf("/dev/pts/%d", n)
}

// slcan spells a frame as serial CAN adapters do (can-utils, slcan protocol).
func slcan(dst []byte, f *bus.Frame) []byte {
	if f.Flags.Has(bus.Extended) {
		dst = fmt.Appendf(dst, "T%08X%d", f.ID, f.Len)
	} else {
		dst = fmt.Appendf(dst, "t%03X%d", f.ID, f.Len)
	}
	return append(fmt.Appendf(dst, "%X", f.Payload()), '\r')
}

// programFile builds the program once for a test, with flags of go build.
func programFile(t *testing.T, flags ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "plumbline")
	if out, err := exec.CommandContext(t.Context(), "go", slices.Concat([]string{"build", "-o", file}, flags, []string{"."})...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return file
}

// process is a daemon that runs.
type running struct {
	*exec.Cmd
	out, log bytes.Buffer
}

func start(t *testing.T, file string, args ...string) *running {
	t.Helper()
	if args[0] == "run" && !slices.Contains(args, "--listen") {
		args = append(args, "--listen", noPage) // tests run side by side
	}
	r := &running{Cmd: exec.CommandContext(t.Context(), file, args...)}
	r.Stdout, r.Stderr = &r.out, &r.log
	if err := r.Start(); err != nil {
		t.Fatal(err)
	}
	return r
}

// end ends it as a service manager does and returns its exit code.
func (r *running) end(t *testing.T) int {
	t.Helper()
	from := time.Now()
	if err := r.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	_ = r.Wait()
	if took := time.Since(from); took > 2*time.Second {
		t.Errorf("it took %v to end, want 2 s at the most", took)
	}
	return r.ProcessState.ExitCode()
}

// TestLiveEqualsReplay plays a simulated function test into a serial adapter, listens to it with the
// real program, and judges the recording: both must say the same, byte for byte.
func TestLiveEqualsReplay(t *testing.T) {
	if testing.Short() {
		t.Skip("takes as long as a function test of one wheel")
	}
	master, slave := pseudoTerminal(t)
	dir := t.TempDir()
	cfg := simulated.Standard(1)
	cfg.RateHz, cfg.JitterS, cfg.Optics, cfg.Marks = 50, 0, nil, true
	cfg.Script = []simulated.Phase{
		{Kind: simulated.Rest, Seconds: 4.5},
		{Kind: simulated.Lift, Seconds: 1.5},
		{Kind: simulated.Turn, Corner: cfg.Corners[0].Name, Turns: 3.3},
		{Kind: simulated.Lower, Seconds: 1},
	}
	// The setup speaks of can0; here the frames come over a serial adapter.
	setup := strings.Replace(cfg.SetupYAML(), "can: can0", "serial: "+slave+", baud: 921600, framing: slcan", 1)
	setupFile := filepath.Join(dir, "setup.yaml")
	for name, text := range map[string]string{setupFile: setup, filepath.Join(dir, "vehicle.dbc"): cfg.DBC()} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	program, record, result := programFile(t), filepath.Join(dir, "recording"), filepath.Join(dir, "live.json")
	p := start(t, program, "run", setupFile, "--record", record, "-o", result, "--log-format", "json")
	time.Sleep(500 * time.Millisecond) // the port must be open: bytes before that are nobody's
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("output:\n%s\nlog:\n%s", p.out.String(), p.log.String())
		}
	})
	play(t, cfg, master)
	if err := p.Process.Signal(syscall.SIGUSR1); err != nil {
		t.Fatal(err)
	}
	time.Sleep(1200 * time.Millisecond) // a silence, which must be found again
	code := p.end(t)
	live := decode(t, result, nil)

	again := call(t, "replay", setupFile, record, "--format", "json")
	if again.code != code {
		t.Errorf("exit code %d live, %d of the recording\n%s\n%s", code, again.code, p.log.String(), again.errors)
	}
	replay := decode(t, "", []byte(again.out))
	for _, key := range []string{"verdict", "findings", "causes", "open", "drives"} {
		if d := cmp.Diff(string(live[key]), string(replay[key])); d != "" {
			t.Errorf("%s (−live +replay):\n%s", key, d)
		}
	}
	if string(live["verdict"]) != `"fail"` && string(live["verdict"]) != `"pass"` {
		t.Errorf("verdict %s: the wheel was not judged\n%s", live["verdict"], p.out.String())
	}
	if !strings.Contains(p.log.String(), `"msg":"mark"`) {
		t.Errorf("no mark was set:\n%s", p.log.String())
	}
}

func decode(t *testing.T, file string, text []byte) map[string]json.RawMessage {
	t.Helper()
	if file != "" {
		var err error
		if text, err = os.ReadFile(file); err != nil {
			t.Fatal(err)
		}
	}
	var m map[string]json.RawMessage
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return m
}

// play sends what the vehicle sends, at the times at which it sends it.
func play(t *testing.T, cfg simulated.Config, to *os.File) {
	t.Helper()
	v, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	began, first := time.Now(), int64(0)
	var buf []byte
	frames(t, v, func(f *bus.Frame) {
		if first == 0 {
			first = f.At
		}
		if wait := time.Duration(f.At-first) - time.Since(began); wait > 2*time.Millisecond {
			deliver(t, to, buf)
			buf = buf[:0]
			time.Sleep(wait)
		}
		buf = slcan(buf, f)
	})
	deliver(t, to, buf)
}

func deliver(t *testing.T, to *os.File, b []byte) {
	t.Helper()
	if err := to.SetWriteDeadline(time.Now().Add(5 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if _, err := to.Write(b); err != nil {
		t.Fatalf("nobody takes the bytes: %v", err)
	}
}
