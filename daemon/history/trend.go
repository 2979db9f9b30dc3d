package history

import (
	"math"
	"strconv"

	"plumbline/checks/fit"
	"plumbline/daemon"
)

// MonthNs is a month, ns: a twelfth of 365.25 days.
const MonthNs = 365.25 / 12 * 86400e9

// family is the chance that a history tells of a drift where there is none.
const family = 0.05

// Trend is how one quantity of a transducer went over its tests.
type Trend struct {
	Check   string `json:"check"`
	Channel string `json:"channel"`
	Unit    string `json:"unit"`
	Tests   int    `json:"tests"` // with a value

	// The straight line by least squares, every test with the same weight: what makes tests differ is
	// more than their own uncertainty. Jumps are taken out of it. Left out below three tests.
	PerMonth    *float64 `json:"per_month,omitempty"`
	Uncertainty *float64 `json:"uncertainty,omitempty"` // of PerMonth, expanded, 95 %
	Scatter     *float64 `json:"scatter,omitempty"`     // standard deviation about the line
	Drifts      bool     `json:"drifts"`                // by more than chance does among all the trends of the history
	Intercept   *float64 `json:"intercept,omitempty"`   // of the line at the first of all tests of the transducer

	// Jumps are those between two tests that no drift explains, such as a taring.
	Jumps []Jump `json:"jumps"`
	// Step is the largest change from one test to the next, by its own uncertainty: a jump is no drift.
	Step *Step `json:"step,omitempty"`
}

// Step is a change between two tests that follow each other.
type Step struct {
	Change      float64        `json:"change"`      // later minus earlier, in the unit of the values
	Uncertainty float64        `json:"uncertainty"` // both, as independent; expanded, 95 %
	From        daemon.Instant `json:"from"`
	To          daemon.Instant `json:"to"`
}

// Jump is a change between two tests that is no drift.
type Jump struct {
	Change float64        `json:"change"` // of the line
	From   daemon.Instant `json:"from"`   // the test before it
	To     daemon.Instant `json:"to"`     // the test after it
}

// trends works out the trends of all transducers.
func (h *History) trends() {
	lines := map[*Trend]line{}
	for i := range h.Transducers {
		t := &h.Transducers[i]
		t.Trends = []Trend{}
		for _, q := range Quantities() {
			if trend, ok := t.trend(q); ok {
				t.Trends = append(t.Trends, trend)
			}
		}
		for k := range t.Trends { // the slice is whole by now
			if l, ok := t.line(&t.Trends[k]); ok {
				lines[&t.Trends[k]] = l
			}
		}
	}
	for trend, l := range lines {
		chance := fit.StudentT(1-family/float64(len(lines)), l.dof) * l.uSlope
		trend.Drifts = math.Abs(l.slope) > chance
		trend.PerMonth = new(significant(l.slope))
		trend.Uncertainty = new(significant(fit.T95(l.dof) * l.uSlope))
		trend.Scatter, trend.Intercept = new(significant(l.scatter)), new(significant(l.intercept))
	}
}

// trend begins the trend of a quantity; false where no test has it.
func (t *Transducer) trend(q Quantity) (Trend, bool) {
	trend := Trend{Check: q.Check, Channel: q.Channel, Jumps: []Jump{}}
	var last Value
	var lastAt daemon.Instant
	best := 0.0
	for i := range t.Points {
		v, ok := t.Points[i].Of(q.Check, q.Channel)
		if !ok {
			continue
		}
		trend.Unit = v.Unit
		if trend.Tests > 0 {
			change, u := difference(v.Value, last.Value, v.Unit), math.Hypot(v.Uncertainty, last.Uncertainty)
			if size := math.Abs(change) / math.Max(u, math.SmallestNonzeroFloat64); trend.Step == nil || size > best {
				best = size
				trend.Step = &Step{significant(change), significant(u), lastAt, t.Points[i].At}
			}
		}
		last, lastAt = v, t.Points[i].At
		trend.Tests++
	}
	return trend, trend.Tests > 0
}

func difference(a, b float64, unit string) float64 {
	if unit == "rad" {
		return fit.Difference(a, b)
	}
	return a - b
}

// significant rounds to six digits, so that the last bits of a machine's arithmetic never show.
func significant(v float64) float64 {
	const digits = 6
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r + 0 // never −0
}
