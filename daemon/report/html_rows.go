package report

import (
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// subjectView is a subject with a row for each of its findings.
type subjectView struct {
	Name   string
	Place  string // axle and side of a corner
	Groups []groupView
}

// cornerView is a corner with its pictures.
type cornerView struct {
	subjectView
	Plane      *planePlot // nil: no whole turn
	Enlarged   *zeroPlot
	Components *componentPlot
}

type groupView struct {
	Name string
	Rows []row
}

// row is one finding.
type row struct {
	Finding                         string // its name
	Check, Channel                  string
	Value, Uncertainty, Unit, Limit string
	Sentence                        string // instead of a value
	Why                             string // below the value, where it has not passed
	Samples, Turns, Seconds         string
	Mark                            mark
}

// subjects makes the tables: the corners first, in the order of the result.
func (v *view) subjects(out *testView, t *Test) {
	all := checks.All()
	var order []string
	for i := range t.Result.Findings {
		if s := t.Result.Findings[i].Subject; !slices.Contains(order, s) {
			order = append(order, s)
		}
	}
	for _, name := range order {
		s := v.subject(t, all, name)
		corner := cornerOf(v.Doc.Setup, name)
		if corner < 0 {
			out.Others = append(out.Others, s)
			continue
		}
		s.Place = v.place(&v.Doc.Setup.Checks.Corners[corner])
		c := cornerView{subjectView: s, Enlarged: v.zeroPlot(&t.Result, name), Components: v.componentPlot(&t.Result, name)}
		if t.Now != nil && corner < len(t.Now.Corners) {
			c.Plane = v.planePlot(&t.Now.Corners[corner], &v.Doc.Setup.Checks.Corners[corner], c.Enlarged != nil)
		}
		out.Corners = append(out.Corners, c)
	}
}

func (v *view) subject(t *Test, all []checks.Check, name string) subjectView {
	s := subjectView{Name: printable(name)}
	for _, g := range groupsOf(all) {
		group := groupView{Name: v.W.Groups[g]}
		for i := range t.Result.Findings {
			if f := &t.Result.Findings[i]; f.Subject == name && groupOf(all, f.Check) == g {
				group.Rows = append(group.Rows, v.row(&t.Result, f))
			}
		}
		if len(group.Rows) > 0 {
			s.Groups = append(s.Groups, group)
		}
	}
	return s
}

func (v *view) row(r *daemon.Result, f *daemon.Finding) row {
	u := readable(f.Unit)
	out := row{
		Finding: printable(f.Name()), Check: printable(f.Check), Channel: printable(f.Channel),
		Unit: printable(u.name), Limit: v.number(limitOf(v.Doc.Setup, f, u)), Mark: v.mark(f.Verdict, f.Required),
	}
	if f.Value == nil {
		out.Sentence = printable(f.Sentence)
	} else {
		if f.Verdict != checks.Pass {
			out.Why = printable(f.Sentence)
		}
		value, spread, both := strings.Cut(quantity(*f.Value, f.Uncertainty, u), " ± ")
		out.Value = v.number(value)
		if both {
			out.Uncertainty = "± " + v.number(spread)
		}
	}
	e := &f.Evidence
	if e.Samples > 0 {
		out.Samples = fixed(float64(e.Samples), 0)
	}
	if e.Revolutions != 0 {
		out.Turns = v.number(fixed(e.Revolutions, 1))
	}
	if e.From != 0 && len(r.Captures) > 0 && r.Captures[0].First != 0 {
		start := r.Captures[0].First
		out.Seconds = v.number(fixed(float64(e.From-start)/1e9, 1) + " – " + fixed(float64(e.To-start)/1e9, 1))
	}
	return out
}

// partDigits are those of a limit that is a part of something weighed or looked up, not a round number.
const partDigits = 4

// limitOf says what the value may be, with the figure that the setup expects where
// it is compared with one.
func limitOf(s *setup.Setup, f *daemon.Finding, u unit) string {
	if f.Limit == nil {
		return ""
	}
	limit := bound(*f.Limit, u)
	around := func(expected float64) string {
		if expected == 0 {
			return "± " + limit
		}
		return bound(expected, u) + " ± " + limit
	}
	switch f.Check {
	case "weight", "angle-spin":
		return "1 ± " + limit
	case "load":
		limit = bound(roundTo(*f.Limit, partDigits), u)
		return around(expectedLoad(s, f.Subject))
	case "clearance":
		return around(expectedClearance(s, f.Subject))
	case "radius":
		limit = bound(roundTo(*f.Limit, partDigits), u)
		return around(expectedRadius(s, *f.Limit))
	case "supply", "temperature":
		return sided(f, limit)
	case "drift":
		if f.Channel != "noise" && f.Channel != "rate" { // which count upward only
			return "± " + limit
		}
	case "zero", "angle-offset", "angle-slip", "skew", "agreement", "camber", "rest-speed", "slip":
		return "± " + limit
	}
	return "≤ " + limit
}

// expectedLoad is the load of a corner, or of the whole vehicle, N; 0 where the setup does not say it.
func expectedLoad(s *setup.Setup, subject string) float64 {
	const standardGravity = 9.80665 // m/s², CGPM 1901
	switch i := cornerOf(s, subject); {
	case s == nil:
		return 0
	case i >= 0:
		return s.Checks.Corners[i].LoadN
	}
	return roundTo(s.Checks.MassKg*standardGravity, 5)
}

// expectedRadius is that of the tyre, m, of which the limit is a part; 0 where it is not known.
func expectedRadius(s *setup.Setup, limit float64) float64 {
	if s == nil || s.Checks.Limits.RadiusRatio <= 0 {
		return 0
	}
	return roundTo(limit/s.Checks.Limits.RadiusRatio, partDigits)
}

func expectedClearance(s *setup.Setup, subject string) float64 {
	if s == nil {
		return 0
	}
	i := slices.IndexFunc(s.Checks.Optics, func(o checks.Optic) bool { return o.Name == subject })
	if i < 0 {
		return 0
	}
	return s.Checks.Optics[i].ClearanceM
}

// sided writes a bound that has a side: a value that passes lies on the right one.
func sided(f *daemon.Finding, limit string) string {
	if f.Value == nil {
		return limit
	}
	if (*f.Value >= *f.Limit) == (f.Verdict != checks.Fail) {
		return "≥ " + limit
	}
	return "≤ " + limit
}
