package main

import "fmt"

// growth shows how the cost per frame goes with corners, rate and length.
func (s *speed) growth() {
	const says = " CPU time of\n`plumbline replay` without that of a recording of one frame, which is the start of the process and the result at its end. Where\ncost is linear the ratio stays 1."
	record := func(corners int, hz float64, frames int, seconds float64) *taped {
		return tapeDrive(s.t, s.t.TempDir(), drive(corners, hz), frames, seconds)
	}
	const all = 1 << 40
	var of []*taped
	for _, corners := range []int{1, 2, 4, 8} {
		t := record(corners, 200, all, s.effort.drive)
		t.name = fmt.Sprintf("%d-corner vehicle at 200 Hz", corners)
		of = append(of, t)
	}
	s.grow("More corners", fmt.Sprintf("The same drive of %v s with more corners."+says, s.effort.drive), of)
	of = nil
	for _, hz := range []float64{100, 500, 1000, 2000} {
		t := record(4, hz, all, s.effort.drive/3)
		t.name = fmt.Sprintf("4 corners at %v Hz", hz)
		of = append(of, t)
	}
	s.grow("Faster channels", fmt.Sprintf("The same drive of %v s with faster channels."+says, s.effort.drive/3), of)
	of = nil
	for _, part := range []int{1, 10, 100} {
		t := record(4, 200, max(s.effort.frames/part, 2), 1e6)
		t.name = "4 corners at 200 Hz"
		of = append(of, t)
	}
	s.grow("Longer recordings", "The same drive, of which more or less is judged, down to a hundredth."+says, of)
}

// grow compares recordings with the first of them.
func (s *speed) grow(title, says string, of []*taped) {
	out := s.sheet(title, says, "recording", "frames", "start and end, ms", "CPU, ns/frame", "ratio", "peak MiB")
	var starts, whole []*runner
	for _, t := range of {
		one := t.one(s.t)
		starts = append(starts, s.replay(t.name, one, one.log))
		whole = append(whole, s.replay(t.name, t, t.log))
	}
	contest(s.effort.rounds, append(append([]*runner{}, starts...), whole...))
	var first float64
	for i, r := range whole {
		start := starts[i].cpu()
		cost := (r.cpu()*float64(r.frames) - start) / float64(r.frames)
		if i == 0 {
			first = cost
		}
		out.row(r.name, thousands(r.frames), figure(start/1e6), figure(cost), fmt.Sprintf("%.2f", cost/first), figure(r.peakMiB()))
	}
}
