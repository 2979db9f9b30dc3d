package daemon

import (
	"testing"

	"plumbline/bus/simulated"
)

// TestDrives: what is done in a yard is no drive, a stop is part of one, and parking or the lift ends it.
func TestDrives(t *testing.T) {
	p := func(kind simulated.PhaseKind, seconds, speed float64) simulated.Phase {
		return simulated.Phase{Kind: kind, Seconds: seconds, SpeedMps: speed, Roughness: min(speed/10, 1)}
	}
	road := []simulated.Phase{p(simulated.Rest, 5, 0), p(simulated.Drive, 60, 14), p(simulated.Drive, 0, 0)}
	wait := func(s float64) []simulated.Phase { return []simulated.Phase{p(simulated.Rest, s, 0)} }
	join := func(parts ...[]simulated.Phase) (out []simulated.Phase) {
		for _, x := range parts {
			out = append(out, x...)
		}
		return out
	}
	four := simulated.Standard(4)
	rows := []struct {
		name    string
		corners int
		faults  []simulated.Fault
		bare    bool // no optical sensors
		script  []simulated.Phase
		drives  int
		now     bool
	}{
		{name: "function test with its roll", corners: 4, script: four.Function()},
		{name: "road", corners: 4, script: road, drives: 1, now: true},
		{name: "one wheel, no ground speed", corners: 1, bare: true, script: road, drives: 1, now: true},
		{name: "one wheel, its angle stands still", corners: 1, faults: []simulated.Fault{{Kind: "angle-stuck", Corner: "FL"}}, script: road, drives: 1, now: true},
		{name: "two wheels, one is silent", corners: 2, faults: []simulated.Fault{{Kind: "silent", Corner: "FL"}}, script: road, drives: 1, now: true},
		{name: "a traffic light", corners: 2, script: join(road, wait(200), road), drives: 1, now: true},
		{name: "parked", corners: 2, script: join(road, wait(320)), drives: 1},
		{name: "parked and driven again", corners: 2, script: join(road, wait(320), road), drives: 2, now: true},
		{name: "lifted after it", corners: 2, script: join(road, []simulated.Phase{p(simulated.Lift, 4, 0)}, wait(5)), drives: 1},
		{name: "driven for ten seconds only", corners: 2, script: []simulated.Phase{p(simulated.Rest, 3, 0), p(simulated.Drive, 6, 4), p(simulated.Drive, 0, 0)}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			c := simulated.Standard(row.corners)
			c.RateHz, c.Script, c.Faults = 30, row.script, row.faults
			if row.bare {
				c.Optics = nil
			}
			j := judgeSimulated(t, c, nil)
			r, now := j.Result(), j.Now()
			if len(r.Drives) != row.drives {
				t.Fatalf("got drives %v, want %d", r.Drives, row.drives)
			}
			if row.drives == 0 {
				return
			}
			last := r.Drives[row.drives-1]
			if last.Now != row.now || now.Drive.Now != row.now || now.Drive.From != int64(last.From) {
				t.Errorf("got %+v and %+v, want under way: %v", last, now.Drive, row.now)
			}
			const second = int64(1e9)
			for i, d := range r.Drives {
				if took := int64(d.To-d.From) / second; took < 50 || took > 400 || d.From < r.Captures[0].First {
					t.Errorf("drive %d is %v to %v, %d s", i, d.From, d.To, took)
				}
			}
		})
	}
}
