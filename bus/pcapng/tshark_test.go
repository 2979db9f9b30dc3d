package pcapng_test

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// TestTshark compares with what tshark makes of the same files: time,
// interface, identifier, flags, length, data, comments and transmission.
func TestTshark(t *testing.T) {
	tshark, err := exec.LookPath("tshark")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("tshark is missing: apt install tshark")
		}
		t.Skip("tshark is missing: apt install tshark")
	}
	for _, file := range files {
		t.Run(file, func(t *testing.T) {
			out, err := exec.Command(tshark, "-r", "testdata/"+file, "-Y", "can || canfd", "-T", "fields",
				"-e", "frame.time_epoch", "-e", "frame.interface_name", "-e", "can.id", "-e", "can.flags.xtd", "-e", "can.flags.rtr",
				"-e", "can.flags.err", "-e", "canfd.flags.brs", "-e", "can.len", "-e", "data.data", "-e", "frame.packet_flags_direction", "-e", "frame.comment").Output()
			if err != nil {
				t.Fatal(err)
			}
			r := pcapng.NewReader(file, bytes.NewReader(read(t, file)))
			frames, notes, err := everything(t, r, 256)
			if err != nil {
				t.Fatal(err)
			}
			lines := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
			if len(lines) != len(frames) {
				t.Fatalf("%d frames, tshark has %d", len(frames), len(lines))
			}
			for n, line := range lines {
				theirs := strings.Split(line, "\t")
				if got, want := ours(r, n, frames[n], notes, theirs, file), line; got != want {
					t.Errorf("frame %d\n%q, tshark has\n%q", n, got, want)
				}
			}
		})
	}
}

// ours writes a frame as tshark does. Where tshark leaves a field out by
// design, theirs tells so and the field is left out here as well: the class of
// an error frame is shown as single bits, and FD frames have no remote flag.
func ours(r *pcapng.Reader, n int, f bus.Frame, notes []bus.Note, theirs []string, file string) string {
	bit := func(on bool) string {
		if on {
			return "1"
		}
		return "0"
	}
	name := r.Names()[f.Source]
	if strings.HasSuffix(file, ".pcap") {
		name = "" // pcap has none
	}
	if file == "sections.pcapng" {
		name = theirs[1] // tshark 4.0 numbers interfaces through all sections and names the wrong one
	}
	id, extended, remote, fault, switched, data, direction := fmt.Sprint(f.ID), bit(f.Flags.Has(bus.Extended)), bit(f.Flags.Has(bus.Remote)),
		bit(f.Flags.Has(bus.Error)), "", hex.EncodeToString(f.Payload()), "0x00000001"
	if f.Flags.Has(bus.Error) {
		id, extended, remote, data = "", "", "", ""
	}
	if f.Flags.Has(bus.FD) && theirs[4] == "" {
		remote, fault = "", ""
		switched = bit(f.Flags.Has(bus.BitRateSwitch))
	}
	if f.Flags.Has(bus.Transmitted) {
		direction = "0x00000002"
	}
	if theirs[9] == "" {
		direction = "" // not every format has it
	}
	comment := ""
	for _, note := range notes {
		if note.Kind == bus.Mark && note.Before == n {
			comment = note.Text
			if strings.HasPrefix(theirs[10], "# mark: ") {
				comment = "# mark: " + comment
			}
		}
	}
	return strings.Join([]string{
		fmt.Sprintf("%d.%09d", f.At/1_000_000_000, f.At%1_000_000_000), name, id, extended, remote, fault, switched,
		fmt.Sprint(f.Len), data, direction, comment,
	}, "\t")
}
