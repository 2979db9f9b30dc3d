package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// guestMark stands before what a row in the guest has come to.
const guestMark = "outcome: "

// guestFaults are those that need CAN, or a clock that may be set: they are made in a kernel of their own, booted
// under qemu by .ci/kernel/boot.
func guestFaults() []fault {
	return []fault{
		{
			name:    "clock set by an hour, on and back",
			how:     "the clock of the computer is set an hour ahead and then an hour back, beside a CAN bus",
			says:    []saying{{inFinding, "the clock of this computer was set forward by 3600"}, {inFinding, "the clock of this computer was set back by 3600"}},
			note:    "the hour is no silence: what comes after a step is later by what passed. The recording has the monotonic clock beside the one that was set",
			vehicle: one, can: "vcan0",
			make: func(tr *trial) {
				tr.begins()
				tr.setClock(time.Hour)
				tr.hears(tr.fault.says[0])
				tr.untilWell()
				tr.setClock(-time.Hour)
				tr.ends()
				tr.hears(tr.fault.says[1])
				if silence := (saying{inFinding, "stayed away for 36"}); tr.watch.seen(silence) {
					tr.Errorf("the hour by which the clock was set is taken for a silence: %q", silence.words)
				}
			},
		},
		{
			name:    "CAN interface down, removed and back",
			how:     "the interface is switched off and on; then it is removed, as an adapter that is pulled, and comes back with another index",
			says:    []saying{{inMetrics, `plumbline_source_link_state{source="wheels",state="down"}`}, {inMetrics, `plumbline_source_link_state{source="wheels",state="absent"}`}},
			vehicle: one, can: "vcan1",
			make: func(tr *trial) {
				tr.begins()
				w := tr.wires[0]
				tr.settle(w)
				tr.command("ip", "link", "set", "vcan1", "down")
				tr.hears(tr.fault.says[0])
				tr.command("ip", "link", "set", "vcan1", "up")
				tr.awaitOpen(w)
				w.speak()
				tr.untilWell()
				tr.settle(w)
				tr.command("ip", "link", "del", "vcan1")
				tr.hears(tr.fault.says[1])
				tr.command("ip", "link", "add", "vcan1", "type", "vcan")
				tr.command("ip", "link", "set", "vcan1", "up")
				tr.awaitOpen(w)
				out := openCAN(tr.T, "vcan1")
				w.set(func() { w.to = out })
				w.speak()
				tr.ends()
			},
		},
		{
			name:    "stopped beside a full CAN bus",
			how:     "SIGSTOP for 30 s, while a full bus arrives; then SIGCONT",
			says:    []saying{{inMetrics, `plumbline_source_lost_frames_total{place="queue",source="wheels"}`}, {inFinding, "in the receive queue"}},
			loses:   "queue, ring, recorder",
			note:    "the kernel counts what its queue had no room for",
			vehicle: one, can: "vcan2", losesSome: true,
			make: func(tr *trial) {
				tr.begins()
				w := tr.wires[0]
				tr.signal(syscall.SIGSTOP)
				w.set(func() { w.flood = 100 })
				time.Sleep(stopFor)
				w.set(func() { w.flood = 0 })
				tr.signal(syscall.SIGCONT)
				tr.ends()
				tr.hears(tr.fault.says...)
			},
		},
	}
}

// setClock moves the clock of the guest.
func (tr *trial) setClock(by time.Duration) {
	tr.Helper()
	// never that of the machine of the test
	if init, err := os.Readlink("/proc/1/exe"); err != nil || filepath.Base(init) != "busybox" {
		tr.Fatalf("this is no guest: its first process is %s, %v", init, err)
	}
	tv := unix.NsecToTimeval(time.Now().Add(by).UnixNano())
	if err := unix.Settimeofday(&tv); err != nil {
		tr.Fatal(err)
	}
}

// faultsInGuest is what happens in the guest: its rows one after the other, for it is slow.
func faultsInGuest(t *testing.T) {
	t.Helper()
	for i := range guestFaults() {
		command(t, "ip", "link", "add", "vcan"+strconv.Itoa(i), "type", "vcan")
		command(t, "ip", "link", "set", "vcan"+strconv.Itoa(i), "up")
	}
	t.Run("rows", func(t *testing.T) {
		for i, f := range guestFaults() {
			t.Run(f.key(), func(t *testing.T) {
				if i > 0 { // who sets the clock must be alone
					t.Parallel()
				}
				out := try(t, &f, "/files/plumbline")
				text, err := json.Marshal(out)
				if err != nil {
					t.Fatal(err)
				}
				fmt.Printf("\n%s%s\n", guestMark, text)
			})
		}
	})
}

// bootFaults boots the guest and returns what came of its rows, by name. This program and plumbline run there as they are.
func bootFaults(t *testing.T, file string) map[string]*outcome {
	t.Helper()
	boot := kernelBoot(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), boot, "--seconds", "180", "--file", file+":/files/plumbline", self,
		"-test.run", "^TestFaults$", "-test.v", "-test.parallel", "4", "-test.timeout", "170s").CombinedOutput()
	if err != nil {
		t.Errorf("in the guest: %v\n%s", err, out)
	}
	found := map[string]*outcome{}
	lines := bufio.NewScanner(strings.NewReader(string(out)))
	for lines.Scan() {
		text, ok := strings.CutPrefix(lines.Text(), guestMark)
		if !ok {
			continue
		}
		o := &outcome{}
		if err := json.Unmarshal([]byte(text), o); err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		found[o.Name] = o
	}
	return found
}
