package checks

import (
	"math"

	"plumbline/checks/fit"
)

// When a drift counts; common practice.
const (
	overWindows = 2   // windows in a row beyond the limit before it counts: one bump is none
	backRatio   = 0.7 // of the limit, within which it counts as having come back
)

// trend compares windows of a drive with its first minutes. Each window is held against the same
// start, so that a slow loss is not averaged away. What was beyond the limit stays told when it
// comes back. Times are ns of event time; memory is fixed.
type trend struct {
	Base, Window fit.Welford // of samples in one unit, which the owner knows
	base, window int64       // samples that make one; add goes by them
	limit        float64
	rise         bool // only what grows counts

	Now, NowU   float64 // last closed window less the start, with its expanded uncertainty
	Windows     int64
	Worst       float64 // farthest of them
	over, under int
	Over        bool
	Since, Back int64 // when it was first beyond the limit, and came back; 0: never
	windowFrom  int64
	From, To    int64 // of all samples
}

// add takes a sample that lasted from one time to the other.
func (p *trend) add(x float64, from, to int64) {
	if p.take(x, from, to) {
		p.close()
	}
}

// take takes a sample and tells whether it was the last of a window, which the caller closes.
func (p *trend) take(x float64, from, to int64) bool {
	if x-x != 0 {
		return false
	}
	if p.From == 0 {
		p.From = from
	}
	p.To = to
	if p.Base.N() < p.base {
		p.Base.Add(x)
		return false
	}
	p.gather(x, from)
	return p.Window.N() >= p.window
}

// gather takes a sample into the window under way.
func (p *trend) gather(x float64, from int64) {
	if p.Window.N() == 0 {
		p.windowFrom = from
	}
	p.Window.Add(x)
}

// close ends the window under way and decides.
func (p *trend) close() {
	p.conclude(p.Window.Mean()-p.Base.Mean(), fit.Expanded(scatter(&p.Base), scatter(&p.Window)))
}

// conclude ends the window under way, which has moved by now ± u, and decides.
func (p *trend) conclude(now, u float64) {
	p.Now, p.NowU = now, u
	p.Windows++
	if p.size(p.Now) > p.size(p.Worst) {
		p.Worst = p.Now
	}
	p.decide()
	p.Window = fit.Welford{}
}

// size is how far a value lies in the direction that counts; negative in the other.
func (p *trend) size(x float64) float64 {
	if p.rise {
		return x
	}
	return math.Abs(x)
}

// decide keeps one bump from raising an alarm, and a value at the limit from raising many.
func (p *trend) decide() {
	size := p.size(p.Now)
	switch {
	case size-p.NowU > p.limit:
		p.over++
		p.under = 0
		if p.over >= overWindows && !p.Over {
			p.Over = true
			if p.Since == 0 {
				p.Since = p.windowFrom
			}
			p.Back = 0
		}
	case size < backRatio*p.limit:
		p.over = 0
		p.under++
		if p.under >= overWindows && p.Over {
			p.Over, p.Back = false, p.windowFrom
		}
	default:
		p.over, p.under = 0, 0
	}
}

// judge says what a trend comes to: beyond the limit now, before, within it, or neither.
func (p *trend) judge() Verdict {
	switch {
	case p.Over || p.Since != 0:
		return Fail
	case p.size(p.Now)+p.NowU <= p.limit:
		return Pass
	}
	return Inconclusive
}

// moved fills a finding about what has moved in its own unit: what names it, stay says what to do while it is off, back
// what to do where it came back.
func (v *view) moved(f *Finding, p *trend, what, stay, back string) {
	f.Value, f.Uncertainty = known(p.Now), known(p.NowU)
	reads := what + " has moved by " + within(p.Now, p.NowU, f.Unit) + " since the first minutes"
	f.Verdict = p.judge()
	switch {
	case p.Over:
		f.Sentence = reads + ", beyond " + show(p.limit, f.Unit) + " since " + v.since(p.Since)
		f.Next = stay
	case f.Verdict == Fail:
		f.Value, f.Uncertainty = known(p.Worst), Number{}
		f.Sentence = what + " moved by up to " + show(p.Worst, f.Unit) + " from " + v.since(p.Since) + " and came back " + v.since(p.Back)
		f.Next = back
	case f.Verdict == Pass:
		f.Sentence = reads
	default:
		f.Sentence = reads + "; that is too close to the limit of " + show(p.limit, f.Unit) + " to decide"
	}
}

// grown does the same for a ratio to the start, of which the trend holds the logarithm: 1 is no change.
func (v *view) grown(f *Finding, p *trend, reads func(ratio, u float64) string, bound, stay, back string) {
	ratio := math.Exp(p.Now)
	f.Value, f.Uncertainty = known(ratio), known(ratio*p.NowU)
	text := reads(ratio, ratio*p.NowU) + " since the first minutes"
	f.Verdict = p.judge()
	switch {
	case p.Over:
		f.Sentence = text + ", beyond " + bound + " since " + v.since(p.Since)
		f.Next = stay
	case f.Verdict == Fail:
		ratio = math.Exp(p.Worst)
		f.Value, f.Uncertainty = known(ratio), Number{}
		f.Sentence = reads(ratio, 0) + " from " + v.since(p.Since) + " and came back " + v.since(p.Back)
		f.Next = back
	case f.Verdict == Pass:
		f.Sentence = text
	default:
		f.Sentence = text + "; that is too close to the limit of " + bound + " to decide"
	}
}
