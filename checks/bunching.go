package checks

import (
	"math"

	"plumbline/checks/fit"
)

// Bunching counts what went wrong against the angle at which it happened, beside all
// frames that were due: a wheel turned by hand spends more time at some angles than at others.
type Bunching struct {
	Frames fit.Bivariate // (cos θ, sin θ) of all frames due while the wheel turned
	Lost   int64         // frames missing there
	Odd    int64         // frames whose force is far off what the turn before says

	sum    complex128 // of exp(iθ) over the errors
	errors int64      // frames lost one after the other are one

	last struct {
		at    int64
		theta float64
		ok    bool
	}
	noise float64 // N, of the residual, whatever a few outliers say
}

// add takes one frame of the radial forces at the unwrapped angle theta; period is that of its message, s.
func (b *Bunching) add(at int64, theta, cos, sin, period float64) {
	b.Frames.Add(cos, sin)
	l := &b.last
	if l.ok && period > 0 {
		gap := float64(at-l.at) * 1e-9
		turned := theta - l.theta
		if lost := math.Round(gap/period) - 1; lost >= 1 && gap > 1.5*period && math.Abs(turned) < math.Pi {
			n := min(lost, 1000)
			for k := 1.0; k <= n; k++ {
				s, c := math.Sincos(l.theta + turned*k/(lost+1))
				b.Frames.Add(c, s)
			}
			b.Lost += int64(lost)
			s, c := math.Sincos(l.theta + turned/2)
			b.fail(c, s)
		}
	}
	l.at, l.theta, l.ok = at, theta, true
}

// stop ends the turning: a gap is not followed over a standstill.
func (b *Bunching) stop() { b.last.ok = false }

func (b *Bunching) fail(cos, sin float64) {
	b.errors++
	b.sum += complex(cos, sin)
}

// residual takes how far a radial force is off what the turn before says, N, and the scatter of that
// turn, N RMS. Five times the noise is an error.
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
		b.Odd++
		b.fail(cos, sin)
	}
}

// test returns the statistic T, χ² with 2 degrees of freedom where errors know nothing of the
// angle, and the angle about which they bunch, rad.
func (b *Bunching) test() (t, theta float64) {
	n := float64(b.errors)
	mean := b.sum / complex(n, 0)
	return n * b.Frames.Distance2(real(mean), imag(mean)), math.Atan2(imag(mean), real(mean))
}

// bunched tells whether enough errors lie about one angle.
func (b *Bunching) bunched() bool {
	if b.errors < leastErrors {
		return false
	}
	t, _ := b.test()
	return t > bunchedLimit
}
