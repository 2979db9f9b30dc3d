package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestListenOnCAN takes first looks at interfaces of a real kernel, booted under qemu by .ci/kernel/boot:
// a virtual one, and two emulated SJA1000 controllers on one bus, fed by can-utils' cangen.
func TestListenOnCAN(t *testing.T) {
	if os.Getenv("PLUMBLINE_GUEST") != "" {
		listenOnCAN(t)
		return
	}
	if testing.Short() {
		t.Skip("boots a kernel")
	}
	t.Parallel()
	inGuest(t, kernelBoot(t))
}

// listenOnCAN is what happens in the guest.
func listenOnCAN(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	put(t, "drive.dbc", listenDBC)
	command(t, "ip", "link", "add", "vcan0", "type", "vcan")
	command(t, "ip", "link", "set", "vcan0", "up")
	command(t, "ip", "link", "set", "can0", "type", "can", "bitrate", "500000", "listen-only", "on")
	command(t, "ip", "link", "set", "can1", "up", "type", "can", "bitrate", "500000", "restart-ms", "100")
	tests := []struct {
		name  string
		first []string // a command before
		sends string   // interface that cangen sends on
		args  []string
		code  int
		want  []string
	}{
		{"absent", nil, "", []string{"vcan7"}, 3, []string{"vcan7: there is no such interface: plug the adapter in", "no frame was heard on vcan7"}},
		{"another kind", nil, "", []string{"lo"}, 2, []string{"lo is a network interface, but no CAN interface"}},
		{"silent", nil, "", []string{"vcan0"}, 3, []string{"vcan0: up, but nothing heard", "virtual, there is no controller"}},
		{"virtual", nil, "vcan0", []string{"vcan0", "--dbc", "drive.dbc"}, 0, []string{
			"vcan0: frames arrive", "vcan0 100 FL_Forces", "FL_Forces.Fx", "virtual, there is no controller",
		}},
		{"down", nil, "", []string{"can0"}, 3, []string{"can0: the interface is there, but switched off", "state STOPPED"}},
		{"listen-only", []string{"link", "set", "can0", "up"}, "can1", []string{"can0"}, 0, []string{
			"can0: frames arrive, at 500 kbit/s", "500 kbit/s, sample point 87.5 %, state ERROR-ACTIVE, listen-only, error counters: receive 0, transmit 0", "can0 100",
		}},
		{"not listen-only", []string{"link", "set", "can0", "down"}, "can1", []string{"can1"}, 0, []string{
			"! can1: the controller is not listen-only", "! can1: a program on this computer sends on this bus", "NOT listen-only", "restarts 100 ms after bus-off",
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.first != nil {
				command(t, "ip", tt.first...)
			}
			if tt.sends != "" {
				c := exec.CommandContext(t.Context(), "cangen", tt.sends, "-g", "5", "-I", "100", "-L", "4", "-D", "i")
				if err := c.Start(); err != nil {
					t.Fatal(err)
				}
				defer func() { _ = c.Process.Kill(); _ = c.Wait() }()
			}
			got := call(t, append(append([]string{"listen"}, tt.args...), "--for", "1500ms")...)
			all := strings.Join(strings.Fields(got.out+got.errors), " ")
			if got.code != tt.code {
				t.Errorf("exit code %d, want %d", got.code, tt.code)
			}
			for _, want := range tt.want {
				if !strings.Contains(all, want) {
					t.Errorf("no %q", want)
				}
			}
			if t.Failed() {
				t.Logf("got\n%s%s", got.out, got.errors)
			}
		})
	}
}
