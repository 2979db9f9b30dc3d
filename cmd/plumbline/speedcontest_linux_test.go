package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// finished is what a whole process took.
type finished struct {
	wall, cpu time.Duration
	peakMiB   float64
}

// process runs a program to its end.
func process(tb testing.TB, c *exec.Cmd, stdin string) finished {
	tb.Helper()
	if stdin != "" {
		f, err := os.Open(stdin)
		if err != nil {
			tb.Fatal(err)
		}
		defer f.Close()
		c.Stdin = f
	}
	if c.Stdout == nil {
		null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0) // a file and no io.Writer, for which there would be a pipe
		if err != nil {
			tb.Fatal(err)
		}
		defer null.Close()
		c.Stdout = null
	}
	from := time.Now()
	if err := c.Start(); err != nil {
		tb.Fatalf("%s: %v", c, err)
	}
	ended, peak := make(chan struct{}), make(chan float64)
	go func() { peak <- peakMiB(c.Process.Pid, ended) }()
	err := c.Wait()
	done := finished{wall: time.Since(from), cpu: c.ProcessState.UserTime() + c.ProcessState.SystemTime()}
	close(ended)
	done.peakMiB = <-peak
	if code := c.ProcessState.ExitCode(); code < 0 || code > 3 {
		tb.Fatalf("%s: %v", c, err)
	}
	return done
}

// peakMiB asks the kernel every 50 ms, seldom enough to keep out of the way of who needs all processors, for the most memory that a
// process has taken, until it has ended. What the kernel tells afterwards (ru_maxrss) begins with what the process that started it had.
func peakMiB(pid int, ended <-chan struct{}) (peak float64) {
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for {
		if kB, ok := strings.CutSuffix(fieldOf(fmt.Sprintf("/proc/%d/status", pid), "VmHWM"), " kB"); ok {
			n, _ := strconv.ParseFloat(kB, 64) // a number, says proc(5)
			peak = n / 1024
		}
		select {
		case <-ended:
			return peak
		case <-tick.C:
		}
	}
}

// runner is one of those that get through a recording.
type runner struct {
	name   string
	frames int
	run    func() finished
	took   []finished
}

// contest lets all run in turn.
func contest(rounds int, runners []*runner) {
	for range rounds {
		for _, r := range runners {
			r.took = append(r.took, r.run())
		}
	}
}

// wall is the least, ns per frame: on a machine that others use as well it scatters upward alone, by half and more for who needs all processors.
func (r *runner) wall() float64 { return r.least(func(f *finished) time.Duration { return f.wall }) }

// cpu is the least, ns per frame.
func (r *runner) cpu() float64 { return r.least(func(f *finished) time.Duration { return f.cpu }) }

func (r *runner) least(of func(*finished) time.Duration) float64 {
	least := math.Inf(1)
	for i := range r.took {
		least = min(least, float64(of(&r.took[i])))
	}
	return least / float64(r.frames)
}

func (r *runner) peakMiB() float64 {
	peak := 0.0
	for _, f := range r.took {
		peak = max(peak, f.peakMiB)
	}
	return peak
}

// against is the part of another's time that this one took, wall and CPU.
func (r *runner) against(other *runner) (wall, cpu float64) {
	return r.wall() / other.wall(), r.cpu() / other.cpu()
}

// cells is a row of a table: name, wall, CPU, both against another one, frames per second, peak.
func (r *runner) cells(other *runner) []string {
	wall, cpu := r.against(other)
	return []string{
		r.name, figure(r.wall()), figure(r.cpu()), fmt.Sprintf("%.2f", wall), fmt.Sprintf("%.2f", cpu),
		fmt.Sprintf("%.2f", 1e3/r.wall()), figure(r.peakMiB()),
	}
}

// figure has three digits that count.
func figure(x float64) string {
	switch {
	case math.Abs(x) >= 100:
		return fmt.Sprintf("%.0f", x)
	case math.Abs(x) >= 10:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.2f", x)
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}
