package daemon

import (
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/checks"
)

// deliveredEvery is a source whose frames have the stamps of a line that delivers every so often, as a serial adapter does
// that has no clock.
type deliveredEvery struct {
	bus.Source
	every int64 // ns
}

func (s *deliveredEvery) Read(b *bus.Batch) error {
	err := s.Source.Read(b)
	stamp := func(at *int64) { *at = (*at + s.every - 1) / s.every * s.every }
	for i := range b.Frames {
		stamp(&b.Frames[i].At)
	}
	for i := range b.Notes {
		stamp(&b.Notes[i].At)
	}
	return err
}

// TestDeliveredInBursts: nothing fails on a healthy vehicle, in function test and drive, though each frame has the stamp of its delivery,
// up to three of a message the same; what cannot be told from such stamps is left open.
func TestDeliveredInBursts(t *testing.T) {
	c := simulated.Standard(4)
	c.Script = append(c.FunctionShort(), simulated.Road(2)...)
	for _, every := range []time.Duration{time.Millisecond, 4 * time.Millisecond, 8 * time.Millisecond, 16 * time.Millisecond} {
		t.Run(every.String(), func(t *testing.T) {
			t.Parallel()
			src, err := simulated.New(c)
			if err != nil {
				t.Fatal(err)
			}
			j := simulatedBench(t, &c).Judge("simulated")
			if err := j.Run(t.Context(), &deliveredEvery{src, every.Nanoseconds()}); err != nil {
				t.Fatal(err)
			}
			r := j.Result()
			if r.Verdict != checks.Pass {
				t.Errorf("the vehicle is %s: %s", r.Verdict, r.Next)
			}
			for i := range r.Findings {
				if f := &r.Findings[i]; f.Verdict == checks.Fail || f.Failed != nil {
					t.Errorf("%s %s: %s, failed %+v", f.Name(), f.Verdict, f.Sentence, f.Failed)
				}
			}
			want := checks.Pass
			if every > 5*time.Millisecond { // between two frames
				want = checks.Inconclusive
			}
			if f := r.Finding("skew", "FL", ""); f.Verdict != want {
				t.Errorf("%s is %s, want %s: %s", f.Name(), f.Verdict, want, f.Sentence)
			}
		})
	}
}
