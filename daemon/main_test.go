package daemon

import (
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"plumbline/bus"
	"plumbline/daemon/setup"
)

var update = flag.Bool("update", false, "write the golden files")

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// golden compares got with testdata/name, whole.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if diff := cmp.Diff(string(got), string(want)); diff != "" {
		t.Errorf("%s: got before want:\n%s", file, diff)
	}
}

// memory is a source of what it was given, in batches of a size.
type memory struct {
	names  []string
	frames []bus.Frame
	notes  []bus.Note // Before counts from the first frame
	size   int        // of a batch; 0: as large as fits
	grow   bool       // a name is known only when its first frame was read
	err    error      // after the last frame; nil: io.EOF
	block  chan struct{}

	read   int
	noted  int
	known  int
	closed atomic.Bool
}

func (m *memory) Read(b *bus.Batch) error {
	b.Reset()
	n := min(cap(b.Frames), len(m.frames)-m.read)
	if m.size > 0 {
		n = min(n, m.size)
	}
	b.Frames = append(b.Frames, m.frames[m.read:m.read+n]...)
	for i := range b.Frames {
		m.known = max(m.known, int(b.Frames[i].Source)+1)
	}
	for ; m.noted < len(m.notes) && (m.notes[m.noted].Before < m.read+n || m.read+n == len(m.frames)); m.noted++ {
		note := m.notes[m.noted]
		note.Before = max(note.Before-m.read, 0)
		b.Notes = append(b.Notes, note)
	}
	m.read += n
	if len(b.Frames)+len(b.Notes) > 0 {
		return nil
	}
	if m.block != nil {
		<-m.block
		return errors.New("closed")
	}
	if m.err != nil {
		return m.err
	}
	return io.EOF
}

func (m *memory) Names() []string {
	if m.grow {
		return m.names[:m.known]
	}
	return m.names
}

func (m *memory) Close() error {
	if !m.closed.Swap(true) && m.block != nil {
		close(m.block)
	}
	return nil
}

const wheelsDBC = `VERSION ""
BU_:
BO_ 256 FL_Forces: 8 Amplifier
 SG_ Fx : 7|16@0- (0.5,0) [-16000|16000] "N" Vector__XXX
 SG_ Fz : 23|16@0- (0.5,0) [-16000|16000] "N" Vector__XXX
 SG_ Theta : 39|16@0+ (0.17578125,0) [0|360] "deg" Vector__XXX
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 256 10;
`

const wheelsYAML = `vehicle: Minibus 7
sources:
  - {name: wheels, can: can0, dbc: [wheels.dbc]}
defaults:
  forces: rotating
  angle_counts: 2048
  channels: {fx: "{corner}_Forces.Fx", fz: "{corner}_Forces.Fz", angle: "{corner}_Forces.Theta"}
corners:
  - {name: FL, axle: 1, side: left, load_n: 7900, wheel_mass_kg: 34}
confirm:
  - {id: wheel-bolts, text: Wheel bolts tightened, value: {unit: N·m, min: 150, max: 170}}
  - {id: cable, text: Cable arm fixed}
`

// bench returns a bench for one wheel on can0.
func bench(tb testing.TB) *Bench {
	tb.Helper()
	s, err := setup.Parse("wheels.yaml", []byte(wheelsYAML), func(string) ([]byte, error) { return []byte(wheelsDBC), nil })
	if err != nil {
		tb.Fatal(err)
	}
	b, err := NewBench(s, "plumbline (test)")
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

const start = int64(1_700_000_000_000_000_000)

// wheel returns n frames of the wheel, 10 ms apart, forces that turn with the angle.
func wheel(n int) []bus.Frame {
	frames := make([]bus.Frame, n)
	for i := range frames {
		f := &frames[i]
		*f = bus.Frame{At: start + int64(i)*10_000_000, ID: 256, Len: 8}
		count := i * 5 % 2048
		force := int16(40 + i%3)
		f.Data[0], f.Data[1] = byte(force>>8), byte(force)
		f.Data[2], f.Data[3] = byte(-force>>8), byte(-force)
		f.Data[4], f.Data[5] = byte(count>>8), byte(count)
	}
	return frames
}
