package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/simulated"
)

// benchFrames is how long the log of the benchmarks is. The figures that are quoted come from 4 million:
//
//	PLUMBLINE_BENCH_FRAMES=4000000 go test ./cmd/plumbline -run '^$' -bench Replay -benchtime 5x
func benchFrames() int {
	if n, err := strconv.Atoi(os.Getenv("PLUMBLINE_BENCH_FRAMES")); err == nil && n > 0 {
		return n
	}
	return 200_000
}

// longLog writes a candump log of so many frames of four corners: function test, then driving.
func longLog(b *testing.B, dir string, frames int) (setup, log string) {
	b.Helper()
	cfg := simulated.Standard(4)
	cfg.JitterS = 0
	cfg.Script = append(cfg.Function(), simulated.Road(float64(frames)/3000/60+1)...)
	src, err := simulated.New(cfg)
	if err != nil {
		b.Fatal(err)
	}
	setup, log = filepath.Join(dir, "setup.yaml"), filepath.Join(dir, "long.log")
	for name, text := range map[string]string{setup: cfg.SetupYAML(), filepath.Join(dir, "vehicle.dbc"): cfg.DBC()} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	f, err := os.Create(log)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	w := candump.NewWriter(f, src.Names())
	var batch bus.Batch
	for n := 0; n < frames; {
		if err := src.Read(&batch); err != nil {
			b.Fatalf("the drive is too short: %d frames: %v", n, err)
		}
		for i := range batch.Frames {
			if err := w.Write(&batch.Frames[i]); err != nil {
				b.Fatal(err)
			}
			if n++; n == frames {
				break
			}
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	return setup, log
}

// finished is what a whole process took.
type finished struct {
	wall   time.Duration
	cpu    time.Duration
	peakMB float64
}

// process runs a program to its end.
func process(b *testing.B, stdin, name string, args ...string) finished {
	b.Helper()
	c := exec.CommandContext(b.Context(), name, args...)
	if stdin != "" {
		f, err := os.Open(stdin)
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		c.Stdin = f
	}
	c.Stdout = io.Discard
	if null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0); err == nil {
		defer null.Close()
		c.Stdout = null
	}
	from := time.Now()
	err := c.Run()
	if s := c.ProcessState; s == nil || s.ExitCode() > 3 {
		b.Fatalf("%s: %v", name, err)
	}
	done := finished{wall: time.Since(from), cpu: c.ProcessState.UserTime() + c.ProcessState.SystemTime()}
	if u, ok := c.ProcessState.SysUsage().(*syscall.Rusage); ok {
		done.peakMB = float64(u.Maxrss) / 1024
	}
	return done
}

// BenchmarkReplay compares, as whole processes in turn, judging a log with reprinting it by can-utils'
// log2long. The ratio is the median over the pairs: what a noisy machine does to one it does to both.
func BenchmarkReplay(b *testing.B) {
	if _, err := exec.LookPath("log2long"); err != nil {
		if os.Getenv("CI") == "true" {
			b.Fatal("log2long is missing: apt-get install can-utils")
		}
		b.Skip("log2long is missing: apt-get install can-utils")
	}
	dir := b.TempDir()
	program := filepath.Join(dir, "plumbline")
	if out, err := exec.CommandContext(b.Context(), "go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	for _, frames := range []int{40_000, benchFrames()} {
		b.Run(strconv.Itoa(frames), func(b *testing.B) {
			setup, log := longLog(b, b.TempDir(), frames)
			var ratios, wall, other, cpu, peak []float64
			for b.Loop() {
				ours := process(b, "", program, "replay", setup, log, "--format", "json")
				theirs := process(b, log, "log2long")
				ratios = append(ratios, float64(ours.wall)/float64(theirs.wall))
				wall = append(wall, float64(ours.wall)/float64(frames))
				cpu = append(cpu, float64(ours.cpu)/float64(frames))
				other = append(other, float64(theirs.wall)/float64(frames))
				peak = append(peak, ours.peakMB)
			}
			b.ReportMetric(median(ratios), "of-log2long")
			b.ReportMetric(median(wall), "ns/frame")
			b.ReportMetric(median(cpu), "cpu-ns/frame")
			b.ReportMetric(median(other), "log2long-ns/frame")
			b.ReportMetric(slices.Max(peak), "peak-MB")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}
