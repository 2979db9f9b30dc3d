package candump

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// tool returns the path of one of can-utils. Where it is missing the test is
// skipped, on a CI machine (CI=true) it fails.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	switch {
	case err == nil:
	case os.Getenv("CI") == "true":
		t.Fatalf("%s is missing: install can-utils", name)
	default:
		t.Skipf("%s is missing: install can-utils to run this test", name)
	}
	return path
}

// run gives input to a tool and returns its output; the tool must succeed.
func run(t *testing.T, input []byte, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), tool(t, name), args...)
	cmd.Stdin = bytes.NewReader(input)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, stderr.String())
	}
	return out
}

// A log written by asc2log of can-utils; see testdata/README.md. The expectation
// was written from the ASC file.
func TestForeignLog(t *testing.T) {
	var counting [bus.MaxData]byte
	for i := range counting {
		counting[i] = byte(i)
	}
	sixteen := data(string(counting[:16]))
	const start = 1741083330_000_000_000
	want := result{
		Names: []string{"can0", "can1"},
		Frames: []bus.Frame{
			{At: start + 1_000_000, ID: 0x201, Len: 8, Data: data("\x10\x27\xf0\xd8\x00\x00\x7f\xff")},
			{At: start + 1_250_000, ID: 0x202, Len: 3, Data: data("\x01\x02\x03")},
			{At: start + 2_000_000, ID: 0x18FF1021, Source: 1, Flags: bus.Extended, Len: 8, Data: data("\x00\x11\x22\x33\x44\x55\x66\x77")},
			{At: start + 2_500_000, ID: 0x7FF, Flags: bus.Transmitted},
			{At: start + 3_000_000, ID: 0x300, Flags: bus.Remote, Len: 4},
			{At: start + 3_500_000, ID: 0x1ABCDEF, Source: 1, Flags: bus.Extended | bus.Remote},
			{At: start + 4_000_000, ID: 0x80, Flags: bus.Error, Len: 8}, // CAN_ERR_BUSERROR, linux/can/error.h
			{At: start + 6_000_000, ID: 0x321, Flags: bus.FD | bus.BitRateSwitch, Len: 16, Data: sixteen},
			{
				At: start + 7_000_000, ID: 0x1FFFFFFF, Source: 1, Len: 64, Data: counting,
				Flags: bus.FD | bus.BitRateSwitch | bus.ErrorState | bus.Extended | bus.Transmitted,
			},
			{At: start + 8_000_000, ID: 0x7F, Flags: bus.FD, Len: 12, Data: data("\xff\xfe\xfd\xfc\xfb\xfa\xf9\xf8\xf7\xf6\xf5\xf4")},
		},
	}
	text, err := os.ReadFile("testdata/asc2log.log")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(read(t, string(text)), want); diff != "" {
		t.Errorf("kept log: got -, want +\n%s", diff)
	}

	// What is installed here may be newer than what wrote the kept log.
	asc, err := os.ReadFile("testdata/asc2log.asc")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(read(t, string(run(t, asc, "asc2log"))), want); diff != "" {
		t.Errorf("log of the asc2log installed here: got -, want +\n%s", diff)
	}
}

// log2long reads each line that the Writer wrote, and finds in it what was meant.
func TestLog2longAcceptsEveryLine(t *testing.T) {
	frames := randomFrames(7, 2000)
	names := []string{"can0", "vcan1", "any"}
	text := write(t, frames, names)
	out := run(t, text, "log2long")
	lines := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	if len(lines) != len(frames) {
		t.Fatalf("log2long: got %d lines, want %d", len(lines), len(frames))
	}
	for i, line := range lines {
		if got, want := long(t, line), longOf(&frames[i], names); got != want {
			t.Errorf("frame %d: log2long understood\n%s, want\n%s", i, got, want)
		}
	}
}

// long reduces a line of log2long to: stamp, name, identifier, length, bytes or word.
// The line ends in the bytes as characters between quotes.
func long(t *testing.T, line string) string {
	t.Helper()
	f := strings.Fields(line)
	if len(f) < 4 {
		t.Fatalf("log2long: cannot take apart %q", line)
	}
	n := 0
	for _, c := range strings.Trim(f[3], "[]") {
		n = n*10 + int(c-'0')
	}
	rest := f[4:]
	if !strings.HasSuffix(line, "remote request") {
		rest = rest[:min(n, len(rest))]
		if strings.Contains(line, "ERRORFRAME") {
			rest = append(rest[:n:n], "ERRORFRAME")
		}
	}
	return strings.Join(append(f[:4:4], rest...), " ")
}

// longOf is what long must return for a frame.
func longOf(f *bus.Frame, names []string) string {
	var b bytes.Buffer
	stamp, _, _ := strings.Cut(string(Append(nil, f, "x")), " ")
	b.WriteString(stamp + " " + names[f.Source] + " ")
	const digits = "0123456789ABCDEF"
	id, width := f.ID, 3
	if f.Flags&(bus.Extended|bus.Error) != 0 {
		width = 8
	}
	if f.Flags.Has(bus.Error) {
		id |= 0x20000000
	}
	for i := width - 1; i >= 0; i-- {
		b.WriteByte(digits[id>>(4*i)&0xF])
	}
	if b.WriteString(" ["); f.Flags.Has(bus.FD) {
		b.WriteByte('0' + f.Len/10)
	}
	b.WriteByte('0' + f.Len%10)
	b.WriteByte(']')
	if f.Flags.Has(bus.Remote) {
		b.WriteString(" remote request")
		return b.String()
	}
	for _, c := range f.Payload() {
		b.Write([]byte{' ', digits[c>>4], digits[c&0xF]})
	}
	if f.Flags.Has(bus.Error) {
		b.WriteString(" ERRORFRAME")
	}
	return b.String()
}

// What the Writer wrote goes through log2asc and asc2log and comes back the same.
// Left out is what the ASC format or the tools of 2020 do not carry: names beside
// canN, ns, the class of an error frame, remote and FD frames' finer points.
func TestThroughASCAndBack(t *testing.T) {
	var frames []bus.Frame
	for _, f := range randomFrames(8, 3000) {
		if f.Flags&^(bus.Extended|bus.Transmitted) == 0 {
			f.At = (1_741_083_330_000_000 + int64(len(frames))*250) * 1000
			f.Source %= 2
			frames = append(frames, f)
		}
	}
	if len(frames) < 500 {
		t.Fatalf("got %d classic frames to try, want at least 500", len(frames))
	}
	asc := run(t, write(t, frames, []string{"can0", "can1"}), "log2asc", "can0", "can1")
	// Without a date asc2log takes the times as they are: since the first frame.
	_, asc, _ = bytes.Cut(asc, []byte("\n"))
	got := read(t, string(run(t, asc, "asc2log")))
	start := frames[0].At
	for i := range frames {
		frames[i].At -= start
	}
	if diff := cmp.Diff(got.Frames, frames); diff != "" || len(got.Notes) > 0 {
		t.Errorf("notes %v, got -, want +\n%s", got.Notes, diff)
	}
}
