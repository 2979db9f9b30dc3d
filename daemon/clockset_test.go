package daemon

import (
	"slices"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/checks"
)

// setAhead is a source whose clock is set by step, ns, when it shows at: its reader tells that first. One wheel
// falls silent at the time silent.
type setAhead struct {
	bus.Source
	at, step, silent int64
	of               func(f *bus.Frame) bool // that wheel
	told             bool
}

func (s *setAhead) Read(b *bus.Batch) error {
	err := s.Source.Read(b)
	b.Notes = b.Notes[:0] // of the script
	b.Frames = slices.DeleteFunc(b.Frames, func(f bus.Frame) bool { return f.At >= s.silent && s.of(&f) })
	for i := range b.Frames {
		f := &b.Frames[i]
		if f.At < s.at {
			continue
		}
		if !s.told {
			s.told = true
			b.Notes = append(b.Notes, bus.Note{Before: i, At: f.At + s.step, Kind: bus.Clock, Step: s.step, Text: "the clock was set"})
		}
		f.At += s.step
	}
	return err
}

// TestClockSet: what is judged over a step of the clock is what is judged without one, and what fails after it fails now: the
// alarms compare the two.
func TestClockSet(t *testing.T) {
	c := simulated.Standard(2)
	c.RateHz, c.Optics = 100, nil
	c.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 40}}
	for _, step := range []time.Duration{0, time.Second, 20 * time.Minute, time.Hour, 50_000 * time.Hour, -time.Hour} {
		src, err := simulated.New(c)
		if err != nil {
			t.Fatal(err)
		}
		j := simulatedBench(t, &c).Judge("simulated")
		var last *Snapshot
		var before checks.Verdict
		grid := int64(0)
		j.Grid = func(at int64) {
			if grid++; grid == 230 {
				before = j.Snapshot(at).Result.Finding("alive", "FR", "").Verdict
			}
			last = j.Snapshot(at)
			if last.Clock != at {
				t.Fatalf("the clock shows %d, want %d", last.Clock, at)
			}
		}
		b := j.bench
		of := func(f *bus.Frame) bool {
			m := b.plan.Lookup(f)
			if m < 0 {
				return false
			}
			right := b.setup.Checks.Corners[1].Channels[checks.Fx]
			return b.messages[m] == b.setup.Checks.Channels[right].Message
		}
		from := simulated.DefaultStart
		if err := j.Run(t.Context(), &setAhead{Source: src, at: from + 10e9, step: int64(step), silent: from + 25e9, of: of}); err != nil {
			t.Fatal(err)
		}
		if before != checks.Pass {
			t.Errorf("%v: alive of FR is %s after the step", step, before)
		}
		f := last.Result.Finding("alive", "FR", "")
		if f == nil || f.Verdict != checks.Fail || f.Failed == nil {
			t.Fatalf("%v: alive of FR, silent since 15 s, is %+v", step, f)
		}
		if ago := last.At - int64(f.Failed.Last); ago < 0 || ago > 2e9 {
			t.Errorf("%v: it fails, and failed last %.1f s ago", step, float64(ago)*1e-9)
		}
		r := j.Result()
		c, when := &r.Captures[0], r.Finding("alive", "FR", "").Failed.First
		if off := time.Duration(int64(when)-from-25e9) - step; off < 0 || off > 3*time.Second {
			t.Errorf("%v: by the clock as it was set last it failed first %v after it fell silent", step, off)
		}
		if long := time.Duration(c.Last - c.First); long < 39*time.Second || long > 41*time.Second {
			t.Errorf("%v: the recording of 40 s lasts from %v to %v", step, c.First, c.Last)
		}
		if w := last.Result.Captures[0].Warnings; step > 0 && len(w) != 1 {
			t.Errorf("%v: warnings %q, want what the reader told", step, w)
		}
	}
}
