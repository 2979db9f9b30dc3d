package metrics

import (
	"flag"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

var update = flag.Bool("update", false, "write the golden files")

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// golden compares got with a file, whole.
func golden(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if diff := cmp.Diff(got, string(want)); diff != "" {
		t.Errorf("%s: got before want:\n%s", file, diff)
	}
}

// prepare reads the setup that belongs to a simulated vehicle.
func prepare(tb testing.TB, c *simulated.Config) (*setup.Setup, *daemon.Bench) {
	tb.Helper()
	s, err := setup.Parse("minibus.yaml", []byte(c.SetupYAML()), c.ReadFile)
	if err != nil {
		tb.Fatal(err)
	}
	b, err := daemon.NewBench(s, "plumbline (test)")
	if err != nil {
		tb.Fatal(err)
	}
	return s, b
}

// untouched is the snapshot of a vehicle of which nothing has been heard.
func untouched(tb testing.TB, corners int) *daemon.Snapshot {
	tb.Helper()
	c := simulated.Standard(corners)
	s, b := prepare(tb, &c)
	j := b.Judge("live")
	j.KeepWindows()
	return &daemon.Snapshot{Result: j.Result(), Now: j.Now(), Setup: s}
}

// tested is the snapshot after a function test of a vehicle, at the same event time in each run. The zero
// of its first corner is 115 N off.
func tested(tb testing.TB, corners int) *daemon.Snapshot {
	tb.Helper()
	c := simulated.Standard(corners)
	c.RateHz = 150
	c.Script = c.FunctionShort()
	f, err := simulated.ParseFault("zero:" + c.Corners[0].Name + "=115")
	if err != nil {
		tb.Fatal(err)
	}
	c.Faults = []simulated.Fault{f}
	v, err := simulated.New(c)
	if err != nil {
		tb.Fatal(err)
	}
	s, b := prepare(tb, &c)
	j := b.Judge("live")
	j.KeepWindows()
	var at int64
	j.Grid = func(now int64) { at = now }
	if err := j.Run(tb.Context(), v); err != nil {
		tb.Fatal(err)
	}
	last := j.Snapshot(at)
	last.Setup = s
	return last
}

// recording gives a snapshot a recorder, and a balance to each source.
func recording(s *daemon.Snapshot) *daemon.Snapshot {
	s.Recording = &record.Stats{
		State: record.Recording, Parts: 3, Bytes: 1 << 20, Free: 40 << 30, FreeOK: true, Reserve: 1 << 30, Stops: 1, Removed: 2,
		Sources: []record.Balance{{Source: "nothing in the setup", Received: 7}},
	}
	for i := range s.Setup.Sources {
		b := record.Balance{Source: s.Setup.Sources[i].Interface, Received: 1000, Written: 900, Pending: 90, Bytes: 12000}
		b.Lost[bus.Recorder] = 10
		s.Recording.Sources = append(s.Recording.Sources, b)
	}
	return s
}

// full is a snapshot that has something of everything.
func full(tb testing.TB, corners int) *daemon.Snapshot {
	tb.Helper()
	s := recording(tested(tb, corners))
	changed := *s.Setup
	changed.Sources = append([]setup.Source(nil), changed.Sources...)
	port := setup.Source{Name: "port", Kind: setup.Serial, Interface: "/dev/ttyUSB0", Match: "port"}
	changed.Sources = append(changed.Sources, port)
	changed.Checks.Sources = append(append([]string(nil), changed.Checks.Sources...), port.Name)
	s.Setup = &changed
	s.Recording.Sources = append(s.Recording.Sources, record.Balance{Source: port.Match, Bytes: 5})
	s.Result.Causes = append(s.Result.Causes, daemon.Cause{ID: "harness-exchanged:FL,FR"})
	s.Result.Drives = []daemon.Drive{{From: daemon.Instant(s.At - 60e9), To: daemon.Instant(s.At), Now: true}}
	s.Now.Sources[0].Load = checks.Number{Value: 0.42, Known: true}
	s.Flow.Age = make([]checks.Histogram, len(changed.Sources))
	for i := range 400 {
		s.Flow.Age[0].Add(0.0001 * float64(i))
		s.Flow.Look.Add(0.0005 + 1e-6*float64(i))
	}
	value, uncertainty := 12.5, 2.5
	for i := range s.Result.Findings {
		if f := &s.Result.Findings[i]; f.Check == "drift" || f.Check == "agreement" || f.Check == "radius" { // a drive of minutes
			f.Value, f.Uncertainty = &value, &uncertainty
		}
	}
	return s
}

// of returns an exporter of one snapshot.
func of(s *daemon.Snapshot) *Exporter {
	return New(func() *daemon.Snapshot { return s }, "plumbline", "1.2.3", "0123abc")
}
