package main

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"
	"github.com/klauspost/compress/zstd"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/simulated"
)

var rerecord = flag.String("record", "", "make the simulated captures whose name contains this anew")

// recipe is how a capture of the simulated vehicle was made. Captures stay as they are when the
// simulator changes; -record makes them anew.
type recipe struct {
	name    string
	says    string // what is in it, for its first line
	corners int
	faults  string // separated by blanks
	vehicle func(*simulated.Config)
	setup   func(string) string
	bytes   func(*testing.T, []byte) []byte // what became of the text
	file    string                          // empty: capture.log.zst
}

func recipes() []recipe {
	fixed := func(c *simulated.Config) {
		for i := range c.Corners {
			c.Corners[i].Fixed = true
		}
	}
	unmarked := func(c *simulated.Config) { c.Marks = false }
	return []recipe{
		{name: "one", says: "one wheel on a rig, nothing wrong", corners: 1},
		{name: "two-fixed", says: "an axle that sends fixed forces, nothing wrong", corners: 2, vehicle: fixed},
		{name: "six", says: "three axles, nothing wrong", corners: 6},
		{name: "eight", says: "four axles, nothing wrong", corners: 8, vehicle: func(c *simulated.Config) { c.RateHz = 25 }},
		{name: "differential", says: "turning a driven wheel turns the opposite one back, nothing wrong", corners: 4, vehicle: func(c *simulated.Config) {
			c.Differential, c.Marks, c.Optics = true, false, simulated.Standard(4).Optics
		}},
		{name: "drive", says: "function test and some minutes on the road, nothing wrong", corners: 2, vehicle: func(c *simulated.Config) {
			c.RateHz = 20
			c.Script = append(c.Function(), simulated.Road(1)...)
		}},
		{name: "harness-exchanged", says: "harnesses of FL and RR exchanged, told by the serial numbers", corners: 4, faults: "harness:FL,RR", vehicle: unmarked},
		{name: "harness-by-order", says: "harnesses of RL and RR exchanged, no serial number, told by the turn order", corners: 4, faults: "harness:RL,RR", vehicle: unmarked, setup: without("serial")},
		{name: "harness-by-mark", says: "harnesses of FL and FR exchanged, no serial number and no turn order, told by marks", corners: 4, faults: "harness:FL,FR", vehicle: func(c *simulated.Config) { c.Marks = true }, setup: without("serial", "turn_order")},
		{name: "nothing-tells", says: "no serial number, no turn order, no mark: nothing tells where the harnesses sit", corners: 2, vehicle: unmarked, setup: without("serial", "turn_order")},
		{name: "angle-cable", says: "angle cables of RL and RR exchanged, told by the turn order", corners: 4, faults: "angle-cable:RL,RR", vehicle: unmarked},
		{name: "force-cable-fixed", says: "force cables of FL and FR exchanged, fixed forces", corners: 4, faults: "force-cable:FL,FR", vehicle: func(c *simulated.Config) { fixed(c); unmarked(c) }},
		{name: "mapped-twice", says: "FR shows what FL measures", corners: 2, faults: "copy:FL,FR"},
		{name: "bolt-hole", says: "the wheel of FR sits two bolt holes round", corners: 2, faults: "bolts:FR=2"},
		{name: "zero-moment-fixed", says: "fixed forces, my of FL reads 30 N·m without load", corners: 2, faults: "zero-my:FL=30", vehicle: fixed},
		{name: "weight", says: "the radial forces of FL read 12 % too much", corners: 2, faults: "weight:FL"},
		{name: "axes", says: "the radial axes of FR differ by 8 %", corners: 2, faults: "axes:FR"},
		{name: "axes-angle", says: "the radial axes of FR are 4° off the right angle", corners: 2, faults: "axes-angle:FR"},
		{name: "coarse-angle", says: "the angle of FL has an eighth of its counts", corners: 2, faults: "angle-steps:FL"},
		{name: "jumping-angle", says: "the angle of FL jumps to and fro", corners: 2, faults: "angle-jumps:FL"},
		{name: "slip-fixed", says: "fixed forces, the angle of FR loses 2° per turn", corners: 2, faults: "angle-slip:FR", vehicle: fixed},
		{name: "mirrored", says: "fx of FL counts the wrong way", corners: 2, faults: "mirror:FL"},
		{name: "silent-corner", says: "FR is not plugged in", corners: 2, faults: "silent:FR"},
		{name: "silent-angle", says: "the angle of FR does not arrive", corners: 2, faults: "silent-angle:FR"},
		{name: "gaps", says: "FL stays away for 0.8 s now and then", corners: 2, faults: "gap:FL"},
		{name: "counter", says: "the counter of FL jumps", corners: 2, faults: "counter:FL"},
		{name: "chafing", says: "the cable of FR chafes at one angle while it rolls", corners: 2, faults: "chafe:FR", vehicle: func(c *simulated.Config) {
			c.RateHz = 80
			c.Script = append(c.Script, simulated.Phase{Kind: simulated.Drive, SpeedMps: 2, Seconds: 8}, simulated.Phase{Kind: simulated.Drive}, simulated.Phase{Kind: simulated.Rest, Seconds: 1})
		}},
		{name: "load", says: "FL carries a quarter more than the setup says", corners: 2, faults: "load:FL"},
		{name: "two-faults", says: "zero of FL and drag of FR", corners: 2, faults: "zero-fx:FL=150 drag:FR=30"},
		{name: "cut-off", says: "the log ends in the middle of a line", corners: 1, bytes: func(_ *testing.T, b []byte) []byte { return b[:len(b)-len(b)/3-7] }},
		{name: "power-loss", says: "NUL bytes in the middle, as after a power loss", corners: 1, bytes: nulls},
		{name: "broken-lines", says: "three lines are broken", corners: 1, bytes: brokenLines},
		{name: "empty", says: "", corners: 1, file: "capture.log", bytes: func(*testing.T, []byte) []byte { return nil }},
		{name: "other-interface", says: "recorded on vcan0, the setup says can0", corners: 1, bytes: func(_ *testing.T, b []byte) []byte { return bytes.ReplaceAll(b, []byte(" can0 "), []byte(" vcan0 ")) }},
		{name: "gzip", says: "packed by gzip", corners: 1, faults: "drag:FL=25", file: "capture.log.gz", bytes: through("gzip", "-9n")},
		{name: "can-utils", says: "text written by can-utils: log2asc | asc2log", corners: 1, bytes: func(t *testing.T, b []byte) []byte {
			t.Helper()
			microseconds := regexp.MustCompile(`(\.\d{6})\d*\)`).ReplaceAll(b, []byte("$1)")) // more it does not read
			return through("asc2log")(t, through("log2asc", "can0")(t, microseconds))
		}},
		{name: "editcap", says: "", corners: 1, faults: "zero:FL=-90", file: "capture.pcapng.zst", bytes: editcap},
	}
}

// brief is the least that a function test needs: three turns each way of each wheel.
func brief(c *simulated.Config) []simulated.Phase {
	script := []simulated.Phase{{Kind: simulated.Rest, Seconds: 5}, {Kind: simulated.Lift, Seconds: 2}}
	for i := range c.Corners {
		script = append(script, simulated.Phase{Kind: simulated.Turn, Corner: c.Corners[i].Name, Turns: 3.4})
	}
	return append(script, simulated.Phase{Kind: simulated.Lower, Seconds: 2}, simulated.Phase{Kind: simulated.Rest, Seconds: 4})
}

// without takes lines that begin with one of these keys out of a setup, and items in braces.
func without(keys ...string) func(string) string {
	return func(text string) string {
		var out []string
		for line := range strings.Lines(text) {
			word := strings.TrimSpace(line)
			drop := false
			for _, k := range keys {
				drop = drop || strings.HasPrefix(word, k+":")
				if a := strings.Index(line, ", "+k+": "); a >= 0 {
					end := a + 2 + strings.IndexAny(line[a+2:], ",}")
					line = line[:a] + line[end:]
				}
			}
			if !drop {
				out = append(out, line)
			}
		}
		return strings.Join(out, "")
	}
}

func nulls(_ *testing.T, b []byte) []byte {
	half := len(b)/2 + 11
	return append(append(append([]byte{}, b[:half]...), make([]byte, 4096)...), b[half:]...)
}

func brokenLines(_ *testing.T, b []byte) []byte {
	lines := bytes.SplitAfter(b, []byte("\n"))
	lines[100] = []byte("(1700000000.600000) can0 1ZZ#00\n")
	lines[200] = []byte("(1700000001.xx) can0 100#00\n")
	lines[300] = lines[300][:len(lines[300])-2]
	lines[300] = append(lines[300], '\n')
	return bytes.Join(lines, nil)
}

// through sends text through a tool of somebody else.
func through(tool string, args ...string) func(*testing.T, []byte) []byte {
	return func(t *testing.T, b []byte) []byte {
		t.Helper()
		c := exec.CommandContext(t.Context(), tool, args...)
		c.Stdin = bytes.NewReader(b)
		out, err := c.Output()
		if err != nil {
			t.Fatalf("%s: %v", tool, err)
		}
		return out
	}
}

// editcap writes a classic capture of link type 227 by gopacket and has editcap make pcapng of it.
func editcap(t *testing.T, b []byte) []byte {
	t.Helper()
	var classic bytes.Buffer
	w := pcapgo.NewWriterNanos(&classic)
	if err := w.WriteFileHeader(72, layers.LinkType(227)); err != nil {
		t.Fatal(err)
	}
	src := candump.NewReader("text", bytes.NewReader(b))
	frames(t, src, func(f *bus.Frame) {
		id := f.ID
		if f.Flags.Has(bus.Extended) {
			id |= 0x80000000
		}
		data := []byte{byte(id >> 24), byte(id >> 16), byte(id >> 8), byte(id), f.Len, 0, 0, 0}
		data = append(data, f.Payload()...)
		if err := w.WritePacket(gopacket.CaptureInfo{Timestamp: time.Unix(0, f.At), CaptureLength: len(data), Length: len(data)}, data); err != nil {
			t.Fatal(err)
		}
	})
	dir := t.TempDir()
	from, to := filepath.Join(dir, "a.pcap"), filepath.Join(dir, "b.pcapng")
	if err := os.WriteFile(from, classic.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.CommandContext(t.Context(), "editcap", "-F", "pcapng", from, to).CombinedOutput(); err != nil {
		t.Fatalf("editcap: %v: %s", err, out)
	}
	text, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func frames(t *testing.T, src bus.Source, each func(*bus.Frame)) {
	t.Helper()
	var b bus.Batch
	for {
		err := src.Read(&b)
		for i := range b.Frames {
			each(&b.Frames[i])
		}
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestRecord(t *testing.T) {
	if *rerecord == "" {
		t.Skip("records nothing without -record NAME")
	}
	for _, r := range recipes() {
		if strings.Contains(r.name, *rerecord) || *rerecord == "all" {
			t.Run(r.name, r.record)
		}
	}
}

// record makes the capture and the setup of one recipe.
func (r recipe) record(t *testing.T) {
	cfg := simulated.Standard(r.corners)
	cfg.RateHz, cfg.Marks = 40, r.corners != 4
	cfg.Seed = uint64(len(r.name))*31 + uint64(r.corners)
	cfg.Script = brief(&cfg)
	cfg.JitterS = 0 // nine decimals a stamp do not compress
	if r.corners > 1 {
		cfg.Optics = nil // they send more often than the wheels here
	}
	if r.vehicle != nil {
		r.vehicle(&cfg)
	}
	for f := range strings.FieldsSeq(r.faults) {
		fault, err := simulated.ParseFault(f)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, fault)
	}
	src, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	w := candump.NewWriter(&text, src.Names())
	if err := tee(t, src, w); err != nil {
		t.Fatal(err)
	}
	b := text.Bytes()
	if r.bytes != nil {
		b = r.bytes(t, b)
	}
	file := r.file
	if file == "" {
		file = "capture.log.zst"
		head := "# " + r.says + "\n# rig: simulated vehicle"
		if r.faults != "" {
			head += ", faults " + r.faults
		}
		b = append([]byte(head+"\n"), b...)
	}
	if strings.HasSuffix(file, ".zst") {
		enc, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression))
		if err != nil {
			t.Fatal(err)
		}
		b = enc.EncodeAll(b, nil)
	}
	setup := cfg.SetupYAML()
	if r.setup != nil {
		setup = r.setup(setup)
	}
	folder := filepath.Join(capturesDir, r.name)
	if err := os.RemoveAll(folder); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{file: b, "setup.yaml": []byte(setup), "vehicle.dbc": []byte(cfg.DBC())} {
		if err := os.WriteFile(filepath.Join(folder, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// tee writes all that a source delivers, marks in their places.
func tee(t *testing.T, src bus.Source, w *candump.Writer) error {
	t.Helper()
	var b bus.Batch
	for {
		err := src.Read(&b)
		next := 0
		for i := range b.Frames {
			for ; next < len(b.Notes) && b.Notes[next].Before <= i; next++ {
				if n := &b.Notes[next]; n.Kind == bus.Mark {
					if err := w.Mark(n.Text); err != nil {
						return err
					}
				}
			}
			if err := w.Write(&b.Frames[i]); err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return w.Flush()
		}
		if err != nil {
			return err
		}
	}
}
