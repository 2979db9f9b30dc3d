package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// Bunching counts what went wrong against the angle at which it happened, beside all
// frames that were due: a wheel turned by hand spends more time at some angles than at others. Lifted and
// on the ground are kept apart: what touches only where the suspension carries is no ring.
type Bunching struct {
	hung, rolled tally
	curves       curves

	last struct {
		at    int64
		theta float64
		ok    bool
	}
	noise float64 // N, of the residual, whatever a few outliers say
}

// tally is what went wrong while a wheel hung, or rolled.
type tally struct {
	Frames fit.Gram   // (cos θ, sin θ) of all frames due while the wheel turned
	Lost   int64      // frames missing there
	Odd    int64      // frames whose force is far off what the turn before says
	errors int64      // frames lost one after the other are one
	sum    complex128 // of exp(iθ) over the errors
}

// add takes one frame of the radial forces at the unwrapped angle theta; period is that of its message, s.
func (b *Bunching) add(at int64, theta, cos, sin, period float64, hangs bool) {
	t := &b.rolled
	if hangs {
		t = &b.hung
	}
	t.Frames.Add(cos, sin)
	l := &b.last
	if l.ok && period > 0 {
		gap := float64(at-l.at) * 1e-9
		turned := theta - l.theta
		if lost := math.Round(gap/period) - 1; lost >= 1 && gap > 1.5*period && math.Abs(turned) < math.Pi {
			n := min(lost, 1000)
			for k := 1.0; k <= n; k++ {
				s, c := math.Sincos(l.theta + turned*k/(lost+1))
				t.Frames.Add(c, s)
			}
			t.Lost += int64(lost)
			s, c := math.Sincos(l.theta + turned/2)
			t.fail(c, s)
		}
	}
	l.at, l.theta, l.ok = at, theta, true
}

// stop ends the turning: a gap is not followed over a standstill.
func (b *Bunching) stop() { b.last.ok = false }

func (t *tally) fail(cos, sin float64) {
	t.errors++
	t.sum += complex(cos, sin)
}

// residual takes how far a radial force of a lifted wheel is off what the turn before says, N, and the scatter of
// that turn, N RMS. Five times the noise is an error.
func (b *Bunching) residual(r, scatter, cos, sin float64) {
	r = math.Abs(r)
	if b.noise == 0 {
		b.noise = scatter
		return
	}
	// Half of all residuals lie within 0.6745 standard deviations: step up and down until they do.
	if step := b.noise / 100; r > 0.6745*b.noise {
		b.noise += step
	} else {
		b.noise -= step
	}
	if r > 5*b.noise {
		b.hung.Odd++
		b.hung.fail(cos, sin)
	}
}

// all returns both together.
func (b *Bunching) all() tally {
	t := b.hung
	o := &b.rolled
	t.Frames.Merge(&o.Frames)
	t.Lost, t.Odd, t.errors, t.sum = t.Lost+o.Lost, t.Odd+o.Odd, t.errors+o.errors, t.sum+o.sum
	return t
}

// test returns the statistic T, χ² with 2 degrees of freedom where errors know nothing of the
// angle, and the angle about which they bunch, rad.
func (t *tally) test() (chi, theta float64) {
	n := float64(t.errors)
	mean := t.sum / complex(n, 0)
	frames := t.Frames.Pairs()
	return n * frames.Distance2(real(mean), imag(mean)), math.Atan2(imag(mean), real(mean))
}

// bunched tells whether enough errors lie about one angle.
func (t *tally) bunched() bool {
	if t.errors < leastErrors {
		return false
	}
	chi, _ := t.test()
	return chi > bunchedLimit
}

// What tells a cable from a ring; common practice.
const (
	chafeExpected = 8 // errors about the angle that the lifted turns would have had by the rate of the rolling ones, at the least
	chafeShare    = 3 // and this many times as many as they had
)

// excess is how many errors more lie about one angle than chance puts there: the size of their resultant.
func (t *tally) excess() float64 {
	frames := t.Frames.Pairs()
	x, y := frames.Mean()
	if t.errors == 0 || x-x != 0 {
		return 0
	}
	return cmplx.Abs(t.sum - complex(float64(t.errors)*x, float64(t.errors)*y))
}

// onGround tells whether errors bunch at one angle while the wheel rolls and the lifted turns were free of that, though
// there were enough to show some: a ring loses frames lifted as well, a cable or its arm touches where the suspension
// has brought it. The numbers of turns are those done lifted and rolling.
func (b *Bunching) onGround(lifted, rolling float64) bool {
	if !b.rolled.bunched() || rolling <= 0 {
		return false
	}
	expected := b.rolled.excess() / rolling * lifted
	return expected >= chafeExpected && expected >= chafeShare*b.hung.excess()
}
