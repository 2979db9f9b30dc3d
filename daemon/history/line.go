package history

import (
	"math"

	"plumbline/checks/fit"
)

// What makes a change between two tests a jump, beside the drift in the time between them: it is far out of what other
// changes scatter by, and three times as large as its own uncertainty.
const (
	jumpScatter = 8 // standard deviations of the changes, as their median absolute deviation tells
	jumpSize    = 3 // expanded uncertainties
	jumpLeaves  = 3 // degrees of freedom of the line, at least
)

// line is a straight line with jumps.
type line struct {
	intercept, slope, uSlope float64 // per month
	scatter, dof             float64
	jumps                    []float64 // by break
}

// series is one quantity over the tests that have it.
type series struct {
	x, y, u []float64 // months, value, expanded uncertainty
	point   []int
}

func (t *Transducer) series(trend *Trend) series {
	var s series
	for i := range t.Points {
		v, ok := t.Points[i].Of(trend.Check, trend.Channel)
		if !ok {
			continue
		}
		value := v.Value
		if n := len(s.y); v.Unit == "rad" && n > 0 {
			value = s.y[n-1] + fit.Difference(v.Value, s.y[n-1]) // an angle goes on the short way round
		}
		s.x = append(s.x, float64(t.Points[i].At-t.Points[0].At)/MonthNs)
		s.y, s.u, s.point = append(s.y, value), append(s.u, v.Uncertainty), append(s.point, i)
	}
	return s
}

// line fits the tests of a quantity and notes its jumps; false where there are fewer than three tests, or all at one time.
func (t *Transducer) line(trend *Trend) (line, bool) {
	s := t.series(trend)
	return s.settle(t, trend)
}

// settle is line for a series of the transducer.
func (s *series) settle(t *Transducer, trend *Trend) (line, bool) {
	if breaks := s.breaks(); len(breaks) > 0 && len(s.x)-2-len(breaks) >= jumpLeaves {
		if l, ok := s.solve(breaks); ok {
			for k, i := range breaks {
				trend.Jumps = append(trend.Jumps, Jump{significant(l.jumps[k]), t.Points[s.point[i-1]].At, t.Points[s.point[i]].At})
			}
			return l, true
		}
	}
	return s.solve(nil)
}

// breaks lists the tests that come after a jump. What most changes share, by their medians, is drift and scatter.
func (s *series) breaks() []int {
	var slopes, changes []float64
	for i := 1; i < len(s.x); i++ {
		if dx := s.x[i] - s.x[i-1]; dx > 0 {
			slopes = append(slopes, (s.y[i]-s.y[i-1])/dx)
		}
	}
	slope := fit.Median(slopes)
	for i := 1; i < len(s.x); i++ {
		changes = append(changes, s.y[i]-s.y[i-1]-float64(slope*(s.x[i]-s.x[i-1])))
	}
	middle, mad := fit.MAD(changes)
	var out []int
	for i, change := range changes {
		size := math.Abs(change - middle)
		if size > jumpScatter*fit.MADToSD*mad && size > jumpSize*math.Hypot(s.u[i], s.u[i+1]) {
			out = append(out, i+1)
		}
	}
	return out
}

// solve fits a line that jumps before each of the breaks.
func (s *series) solve(breaks []int) (line, bool) {
	if len(breaks) == 0 {
		f, err := fit.Line(s.x, s.y)
		return line{intercept: f.Intercept, slope: f.Slope, uSlope: f.USlope, scatter: f.ResidualSD, dof: f.DOF()}, err == nil
	}
	columns := [][]float64{make([]float64, len(s.x)), s.x}
	for i := range columns[0] {
		columns[0][i] = 1
	}
	for _, at := range breaks {
		after := make([]float64, len(s.x))
		for i := at; i < len(after); i++ {
			after[i] = 1
		}
		columns = append(columns, after)
	}
	r, err := fit.LeastSquares(columns, s.y)
	if err != nil {
		return line{}, false
	}
	return line{intercept: r.Coef[0], slope: r.Coef[1], uSlope: r.SE[1], scatter: r.ResidualSD, dof: float64(r.DOF), jumps: r.Coef[2:]}, true
}
