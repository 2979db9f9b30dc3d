package compare

import (
	"math"
	"strconv"

	"plumbline/checks"
	"plumbline/checks/fit"
	"plumbline/daemon"
)

// Part is one part of the uncertainty of both values, and what of it is left in their
// difference.
type Part struct {
	Name        string   `json:"name"`
	Before      *float64 `json:"before,omitempty"` // standard uncertainty; left out where it is not known and drops out
	After       *float64 `json:"after,omitempty"`
	Correlation float64  `json:"correlation"` // 1: common to both tests, 0: independent
	Left        float64  `json:"left"`        // in the difference
}

// The names of parts.
const (
	partScatter     = "scatter"
	partResolution  = "resolution"
	partRounding    = "count rounding"
	partIndex       = "count of the index"
	partAll         = "all, from a result without parts"
	partMass        = "wheel mass"
	partCalibration = "calibration"
)

// difference is after − before with what it is uncertain by.
type difference struct {
	change    float64
	unit      string
	limit     *float64
	parts     []Part
	left      []fit.Part
	why, next string // why there is none
}

// difference takes the difference of a pair; ok is false where there is none.
func (p *pairing) difference(pair *pair) (d difference, ok bool) {
	d.why, d.next = pair.why, pair.next
	for _, f := range []*daemon.Finding{pair.after, pair.before} {
		if f != nil && f.Unit != "" {
			d.unit = f.Unit
		}
	}
	if d.why == "" {
		d.why, d.next = missing(pair)
	}
	if d.why != "" {
		return d, false
	}
	a, b := *pair.before.Value, *pair.after.Value
	scale := 1.0
	if pair.check == "weight" && pair.was != nil && pair.is != nil && pair.was.WheelMassKg > 0 && pair.is.WheelMassKg > 0 {
		scale = pair.is.WheelMassKg / pair.was.WheelMassKg // what was weighed, by the mass of the first test
	}
	b *= scale
	d.change = b - a
	if d.unit == "rad" {
		d.change = fit.Wrap(d.change)
	}
	d.limit = p.limitOf(pair)
	p.share(&d, pair, scale)
	return d, true
}

// missing says which value is not there, in the words of its own finding.
func missing(pair *pair) (why, next string) {
	for _, t := range []struct {
		name string
		f    *daemon.Finding
	}{{"first", pair.before}, {"second", pair.after}} {
		switch {
		case t.f == nil:
			return pair.says() + " is not in the " + t.name + " test", ""
		case t.f.Value == nil || t.f.Uncertainty == nil:
			return "in the " + t.name + " test: " + t.f.Sentence, t.f.Next
		}
	}
	return "", ""
}

// limitOf is how far a quantity may move: for a zero what the setup allows a drift,
// else the limit of the quantity itself.
func (p *pairing) limitOf(pair *pair) *float64 {
	if pair.check == "zero" {
		for _, channel := range like(pair.channel) {
			if f := p.after.result.Finding("drift", pair.after.Subject, channel); f != nil && f.Limit != nil {
				return f.Limit
			}
		}
	}
	return pair.after.Limit
}

// like lists a component and those of its kind, of which one may have a drift.
func like(channel string) []string {
	switch channel {
	case "fx", "fy", "fz":
		return []string{channel, "fx", "fz"}
	}
	return []string{channel, "mx", "mz"}
}

// share splits the uncertainties into what drops out and what is left.
func (p *pairing) share(d *difference, pair *pair, scale float64) {
	a, b := pair.before.Parts, pair.after.Parts
	if a == nil || b == nil {
		d.add(partAll, whole(pair.before), whole(pair.after), 0)
		return
	}
	d.add(partScatter, fit.Part{U: a.Scatter, DOF: a.DOF}, fit.Part{U: b.Scatter * scale, DOF: b.DOF}, 0)
	same := pair.belongs != toTransducer || pair.serial != nil || pair.was == nil || pair.is == nil || pair.was.Corner == pair.is.Corner
	common := 0.0
	if same && alike(a.Resolution, b.Resolution*scale) && p.swept(pair) {
		common = 1
	}
	d.add(partResolution, fit.TypeB(a.Resolution), fit.TypeB(b.Resolution*scale), common)
	if a.Count > 0 || b.Count > 0 {
		if same && alike(a.Count, b.Count) {
			// half a count each: rectangular ±½ count instead of ±1
			d.add(partRounding, fit.TypeB(a.Count/2), fit.TypeB(b.Count/2), 1)
			d.add(partIndex, fit.TypeB(a.Count/2), fit.TypeB(b.Count/2), 0)
		} else {
			d.add(partIndex, fit.TypeB(a.Count), fit.TypeB(b.Count), 0)
		}
	}
	if pair.check == "weight" {
		d.parts = append(d.parts, Part{Name: partMass, Correlation: 1})
	}
	if pair.belongs == toTransducer {
		d.parts = append(d.parts, Part{Name: partCalibration, Correlation: 1})
	}
}

// add adds a part: independent ones with their degrees of freedom, of common ones what does not drop out.
func (d *difference) add(name string, a, b fit.Part, correlation float64) {
	if correlation == 0 {
		d.left = append(d.left, a, b)
	}
	left := fit.Correlated([]float64{1, -1}, []float64{a.U, b.U}, func(int, int) float64 { return correlation })
	if correlation == 1 && left > 0 {
		d.left = append(d.left, fit.TypeB(left))
	}
	d.parts = append(d.parts, Part{
		Name: name, Before: finite(significant(a.U)), After: finite(significant(b.U)), Correlation: correlation, Left: orZero(significant(left)),
	})
}

// whole is all of an uncertainty as if it were one independent part: as large as it can be, with as few degrees of
// freedom as its repeats can have had.
func whole(f *daemon.Finding) fit.Part {
	n := f.Evidence.Revolutions
	if n == 0 {
		n = float64(f.Evidence.Samples)
	}
	return fit.Part{U: *f.Uncertainty / fit.T95(math.Inf(1)), DOF: max(n-1, 1)}
}

// swept reports whether something carries the value over many raw steps in both tests, so that half a step of bias is
// all that the steps can do: the weight of the turned wheel, or noise of more than half a step.
func (p *pairing) swept(pair *pair) bool {
	switch pair.check {
	case "weight", "axes", "angle-offset":
		return true
	case "drag":
		return p.noisy(pair, "my")
	case "zero":
		return pair.channel == "fx" || pair.channel == "fz" || p.noisy(pair, pair.channel)
	}
	return false
}

// noisy tells whether a channel scatters by more than half a raw step; a value between two steps does not.
func (p *pairing) noisy(pair *pair, channel string) bool {
	for _, t := range []struct {
		side *side
		f    *daemon.Finding
	}{{&p.before, pair.before}, {&p.after, pair.after}} {
		noise := t.side.result.Finding("noise", t.f.Subject, channel)
		halfStep := t.f.Parts.Resolution * math.Sqrt(3)
		if noise == nil || noise.Value == nil || noise.Verdict == checks.Absent || *noise.Value <= halfStep {
			return false
		}
	}
	return true
}

// alike compares figures of six digits.
func alike(a, b float64) bool { return abs(a-b) <= 1e-5*(abs(a)+abs(b)) }

func abs(v float64) float64 { return math.Abs(v) }

// significant rounds to six digits, so that the last bits of a machine's arithmetic never show.
func significant(v float64) float64 {
	const digits = 6
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r + 0 // never −0
}

func finite(v float64) *float64 {
	if v-v != 0 {
		return nil
	}
	return &v
}

func orZero(v float64) float64 {
	if v-v != 0 {
		return 0
	}
	return v
}
