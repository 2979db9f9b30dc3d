package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// BenchmarkDaemon runs all of the daemon with eight corners, up to three full buses, for some seconds each: what is heard goes through the ring,
// is judged, recorded and published, and is delivered as the kernel does it, in batches of 20 ms. Only the
// kernel's own part is missing, since few build machines have CAN: BenchmarkReader of bus/socketcan tells what that costs.
//
//	go test ./daemon -run '^$' -bench Daemon -benchtime 1x
func BenchmarkDaemon(b *testing.B) {
	for _, load := range []struct {
		name  string
		hz    float64
		taped bool
	}{
		{"300 a second", 10, true},
		{"8000 a second", 333.33, true},
		{"24000 a second", 1000, true},
		{"24000 a second, not recorded", 1000, false},
	} {
		b.Run(load.name, func(b *testing.B) {
			cfg := simulated.Standard(8)
			cfg.RateHz, cfg.Optics = load.hz, nil
			wheel := cfg.Corners[0].Name
			cfg.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 1}, {Kind: simulated.Lift, Seconds: 1}, {Kind: simulated.Turn, Corner: wheel, Turns: 3.2}}
			frames := generated(b, cfg)
			s, err := setup.Parse("vehicle.yaml", []byte(cfg.SetupYAML()), cfg.ReadFile)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				src := newFullBus(b, frames, s.Sources[0].Match)
				d := New(Config{
					Load: func() (*setup.Setup, error) { return s, nil }, Program: "plumbline (test)",
					open: func(*Bench, bool) ([]bus.Source, []string, error) { return []bus.Source{src}, nil, nil },
				})
				if load.taped {
					d.cfg.Record = record.Config{Dir: b.TempDir()}
				}
				const during = 5 * time.Second
				ctx, cancel := context.WithTimeout(b.Context(), during)
				before := used(b)
				begun := time.Now()
				err := d.Run(ctx)
				took, cost := time.Since(begun), used(b)-before
				cancel()
				if !errors.Is(err, context.DeadlineExceeded) {
					b.Fatal(err)
				}
				b.ReportMetric(100*cost.Seconds()/took.Seconds(), "%core")
				b.ReportMetric(float64(src.sent)/took.Seconds(), "frames/s")
				b.ReportMetric(float64(cost.Nanoseconds())/float64(src.sent), "cpu-ns/frame")
				snapshot := d.Snapshot()
				lost := uint64(src.sent) - snapshot.Result.Captures[0].Frames
				b.ReportMetric(float64(lost), "not-judged") // those on their way when it ended
				if r := snapshot.Recording; load.taped && (r == nil || r.Lost > 0) {
					b.Errorf("the recorder lost frames: %+v", r)
				}
			}
		})
	}
}

// generated returns the frames of a script.
func generated(tb testing.TB, cfg simulated.Config) []bus.Frame {
	tb.Helper()
	v, err := simulated.New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	var all []bus.Frame
	var batch bus.Batch
	for {
		err := v.Read(&batch)
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			tb.Fatal(err)
		}
		all = append(all, batch.Frames...)
	}
}

// fullBus delivers frames when they are due, over and over, and waits as bus/socketcan does.
type fullBus struct {
	frames []bus.Frame
	name   string
	beat   *os.File // a timerfd
	from   time.Time
	sent   int
	full   bool // the last batch had no room for all
}

func newFullBus(b *testing.B, frames []bus.Frame, name string) *fullBus {
	b.Helper()
	fd, err := unix.TimerfdCreate(unix.CLOCK_MONOTONIC, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		b.Fatal(err)
	}
	every := unix.NsecToTimespec(20e6)
	if err := unix.TimerfdSettime(fd, 0, &unix.ItimerSpec{Interval: every, Value: every}, nil); err != nil {
		b.Fatal(err)
	}
	return &fullBus{frames: frames, name: name, beat: os.NewFile(uintptr(fd), "timerfd")}
}

func (f *fullBus) Names() []string { return []string{f.name} }
func (f *fullBus) Close() error    { return f.beat.Close() }

func (f *fullBus) Read(b *bus.Batch) error {
	b.Reset()
	if f.from.IsZero() {
		f.from = time.Now()
	}
	n := len(f.frames)
	round := f.frames[n-1].At - f.frames[0].At + 1_000_000
	due := func(k int) int64 { return int64(k/n)*round + f.frames[k%n].At - f.frames[0].At }
	for len(b.Frames) == 0 {
		if !f.full {
			var beats [8]byte
			if _, err := f.beat.Read(beats[:]); err != nil {
				return io.EOF // closed
			}
		}
		for now := int64(time.Since(f.from)); len(b.Frames) < cap(b.Frames) && due(f.sent) <= now; f.sent++ {
			frame := f.frames[f.sent%n]
			frame.At = f.from.UnixNano() + due(f.sent)
			b.Frames = append(b.Frames, frame)
		}
		f.full = len(b.Frames) == cap(b.Frames)
	}
	return nil
}

func used(tb testing.TB) time.Duration {
	tb.Helper()
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(fmt.Errorf("getrusage: %w", err))
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
