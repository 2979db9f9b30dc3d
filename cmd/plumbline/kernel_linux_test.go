package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus/candump"
	"plumbline/bus/simulated"
)

// TestRunOnCAN runs the real program on a real kernel that has CAN: can-utils' canplayer plays a simulated
// test into vcan0, plumbline listens and records, and its recording must say the same again. The kernel
// is booted under qemu by .ci/kernel/boot.
func TestRunOnCAN(t *testing.T) {
	if os.Getenv("PLUMBLINE_GUEST") != "" {
		runOnCAN(t)
		return
	}
	if testing.Short() {
		t.Skip("boots a kernel")
	}
	boot := kernelBoot(t)
	dir := t.TempDir()
	var args []string
	for _, name := range guestFiles(t, dir) {
		args = append(args, "--file", filepath.Join(dir, name)+":/files/"+name)
	}
	inGuest(t, boot, args...)
}

// inGuest runs this test, built without cgo, on a kernel that boot boots, where PLUMBLINE_GUEST is set.
func inGuest(t *testing.T, boot string, args ...string) {
	t.Helper()
	guest := filepath.Join(t.TempDir(), "guest.test")
	build(t, guest, "test", "-c")
	args = append(args, guest, "-test.run", "^"+t.Name()+"$", "-test.v", "-test.timeout", "80s")
	out, err := exec.CommandContext(t.Context(), boot, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("in the guest: %v\n%s", err, out)
	}
	if want := "--- PASS: " + t.Name(); !strings.Contains(string(out), want) {
		t.Errorf("the guest did not print %q:\n%s", want, out)
	}
	t.Logf("in the guest:\n%s", out)
}

// build has go make a program of this package that needs nothing of the system it runs on.
func build(t *testing.T, path string, args ...string) {
	t.Helper()
	c := exec.CommandContext(t.Context(), "go", append(args, "-o", path, ".")...)
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}

// guestFiles makes what the guest needs: the program, a setup, and what is played.
func guestFiles(t *testing.T, dir string) []string {
	t.Helper()
	cfg := simulated.Standard(1)
	cfg.RateHz, cfg.JitterS, cfg.Optics = 50, 0, nil
	cfg.Script = []simulated.Phase{
		{Kind: simulated.Rest, Seconds: 4.5},
		{Kind: simulated.Lift, Seconds: 1},
		{Kind: simulated.Turn, Corner: cfg.Corners[0].Name, Turns: 3.3},
		{Kind: simulated.Lower, Seconds: 1},
	}
	v, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	if err := tee(t, v, candump.NewWriter(&log, v.Names())); err != nil {
		t.Fatal(err)
	}
	setup := strings.Replace(cfg.SetupYAML(), "can: can0", "can: vcan0", 1)
	for name, text := range map[string][]byte{"setup.yaml": []byte(setup), "vehicle.dbc": []byte(cfg.DBC()), "play.log": log.Bytes()} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	build(t, filepath.Join(dir, "plumbline"), "build")
	return []string{"setup.yaml", "vehicle.dbc", "play.log", "plumbline"}
}

func command(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.CommandContext(t.Context(), name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// runOnCAN is what happens in the guest.
func runOnCAN(t *testing.T) {
	t.Helper()
	command(t, "ip", "link", "add", "vcan0", "type", "vcan")
	command(t, "ip", "link", "set", "vcan0", "up")
	p := start(t, "/files/plumbline", "run", "/files/setup.yaml", "--record", "/tmp/recording", "-o", "/tmp/live.json")
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("output:\n%s\nlog:\n%s", p.out.String(), p.log.String())
		}
	})
	time.Sleep(2 * time.Second)
	command(t, "canplayer", "-I", "/files/play.log", "vcan0=can0")
	command(t, "ip", "link", "set", "vcan0", "down")
	time.Sleep(1500 * time.Millisecond)
	command(t, "ip", "link", "set", "vcan0", "up")
	time.Sleep(time.Second)
	command(t, "cansend", "vcan0", "7FF#00")
	time.Sleep(1500 * time.Millisecond)
	code := p.end(t)
	live := decode(t, "/tmp/live.json", nil)
	again := call(t, "replay", "/files/setup.yaml", "/tmp/recording", "--format", "json")
	if again.code != code {
		t.Errorf("exit code %d live, %d of the recording\n%s", code, again.code, again.errors)
	}
	replay := decode(t, "", []byte(again.out))
	for _, key := range []string{"verdict", "findings", "causes", "open"} {
		if d := cmp.Diff(string(live[key]), string(replay[key])); d != "" {
			t.Errorf("%s (−live +replay):\n%s", key, d)
		}
	}
	for _, want := range []string{"placement", `"check": "zero"`} {
		if !strings.Contains(string(live["findings"]), want) {
			t.Errorf("nothing was judged: no %s", want)
		}
	}
	if v := string(live["verdict"]); v == `"inconclusive"` {
		t.Errorf("verdict %s:\n%s", v, p.out.String())
	}
}

// kernelBoot returns the program that boots a kernel with CAN. Where none can be booted the test is skipped, on a CI machine it fails.
func kernelBoot(t *testing.T) string {
	t.Helper()
	boot, err := filepath.Abs("../../.ci/kernel/boot")
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.CommandContext(t.Context(), boot, "--check").CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("no kernel can be booted: %s", out)
		}
		t.Skipf("no kernel can be booted: %s", out)
	}
	return boot
}
