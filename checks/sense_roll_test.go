package checks

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Forces and angle of one transducer mirrored together look right by themselves; a roll shows it.
func TestSenseOnRoll(t *testing.T) {
	// The angle counts down and the x axis points back: f·e^{iθ} seen in mirrored axes.
	mirror := func(corners ...int) func(*yard) {
		return func(y *yard) {
			for _, i := range corners {
				y.angle[i] = func(theta float64) float64 { return -theta }
			}
			before := y.spoil
			y.spoil = func(corner int, q Quantity, v float64) float64 {
				if before != nil {
					v = before(corner, q, v)
				}
				for _, i := range corners {
					if corner == i && (q == Fx || q == Mx || q == My) {
						return -v
					}
				}
				return v
			}
		}
	}
	noRoad := func(f func(*yard)) func(*yard) {
		return func(y *yard) { f(y); y.optic("road").Channels[SpeedX] = None }
	}
	forward := func(y *yard) { y.roll(6, 3, 0) }
	for _, c := range []struct {
		name string
		n    int
		with func(*yard)
		roll func(*yard)
		open []string // of angle-sense, placement and slip
		says string
	}{
		{"nobody", 4, mirror(), forward, nil, "counts with its forces"},
		{"one of four", 4, mirror(0), forward, []string{"angle-sense FL fail"}, "against the ground speed"},
		{"one of four, no ground speed", 4, noRoad(mirror(0)), forward, []string{"angle-sense FL fail"}, "against FR, RL and RR"},
		{"the right side", 4, mirror(1, 3), forward, []string{"angle-sense FR fail", "angle-sense RR fail"}, "counts with"},
		{"one of two", 2, mirror(0), forward, []string{"angle-sense FL fail"}, "against the ground speed"},
		{"one of two, no ground speed", 2, noRoad(mirror(0)), forward, []string{"angle-sense FL inconclusive", "angle-sense FR inconclusive"}, "nothing tells which is right"},
		{"one alone", 1, mirror(0), forward, []string{"angle-sense FL fail"}, "against the ground speed"},
		{"nobody, rolling back", 4, mirror(), func(y *yard) { y.roll(6, -3, 0) }, nil, "counts with its forces"},
		{"one, rolling back", 4, mirror(0), func(y *yard) { y.roll(6, -3, 0) }, []string{"angle-sense FL fail"}, ""},
		{"nobody, to and fro", 4, mirror(), func(y *yard) { y.roll(4, 3, 0); y.roll(4, -3, 0) }, nil, ""},
		{"sensor the other way round", 4, func(y *yard) { y.road.mount = 3.1416 }, forward, []string{"slip road fail"}, "counts with its forces"},
		{"too short a roll", 4, mirror(0), func(y *yard) { y.roll(2, 3, 0) }, []string{"slip road inconclusive"}, "counts with its forces"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(2, []string{"FL", "FR", "RL", "RR"}[:c.n]...)
			c.with(y)
			y.stand(4.6)
			y.lift()
			y.run(0.7)
			for i := range c.n {
				y.turn(i, 3.3, 5.5, 2)
				y.turn(i, 3.3, -5, 2)
			}
			y.down()
			y.run(1)
			c.roll(y)
			got := y.judged(t)
			if diff := cmp.Diff(only(got, "angle-sense", "slip"), c.open); diff != "" {
				t.Errorf("what is open (−got +want):\n%s", diff)
			}
			if f := find(got, "angle-sense", "FL", ""); !contains(f.Sentence, c.says) {
				t.Errorf("says %q, want %q in it", f.Sentence, c.says)
			}
		})
	}
}
