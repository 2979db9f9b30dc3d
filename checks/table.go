package checks

// Group is what a check belongs to.
type Group string

// The groups, in the order of results.
const (
	Connection Group = "connection"
	ZeroGroup  Group = "zero"
	AngleGroup Group = "angle"
	Ground     Group = "ground"
	DriveGroup Group = "drive"
)

// Check is one check: what it asks, and the function that answers from the evidence.
type Check struct {
	Name     string // an interface: results, metrics and alarms carry it
	Group    Group
	Asks     string
	Required bool // a function test without it is not complete

	judge func(*view) []Finding
}

// All returns every check in the order of results.
func All() []Check {
	return []Check{
		{"alive", Connection, "does each message arrive, at its rate, without gaps or counter jumps", true, alive},
		{"placement", Connection, "does each plug sit on the corner that its label says; is one channel mapped twice", true, placement},
		{"zero", ZeroGroup, "offset of each component, from a free turn of the lifted wheel", true, zero},
		{"weight", ZeroGroup, "does the hanging wheel weigh m·g: scale of the radial force", true, weight},
		{"axes", ZeroGroup, "equal sensitivity and right angle of the two radial axes", true, axes},
		{"drag", ZeroGroup, "friction about the axle: brake, bearing, rubbing pick-up ring", true, drag},
		{"angle-offset", AngleGroup, "misalignment of the angle against the force axes", true, angleOffset},
		{"angle-sense", AngleGroup, "does the angle count in the direction in which the forces turn", true, angleSense},
		{"angle-steps", AngleGroup, "range, wrap and resolution of the angle", true, angleSteps},
		{"angle-jumps", AngleGroup, "does the angle jump", true, angleJumps},
		{"angle-slip", AngleGroup, "are counts lost from turn to turn", true, angleSlip},
		{"angle-stuck", AngleGroup, "does the angle stand still while the wheel turns", false, angleStuck},
		{"angle-spin", AngleGroup, "does the speed channel do what the angle does", false, angleSpin},
		{"skew", AngleGroup, "time between angle and force", false, skew},
		{"coupling", AngleGroup, "do lost frames, odd values or drag bunch at one angle: the pick-up ring is not aligned", false, coupling},
		{"load", Ground, "load of each corner on the ground and their sum", true, load},
		{"drift", DriveGroup, "has the zero of the rotating axes moved since the start of the drive", false, drift},
	}
}

// Result is what all checks say at one moment.
type Result struct {
	Verdict  Verdict
	Findings []Finding
	Causes   []Cause
	Next     string // the one thing to do next; empty when nothing is open
}

// Result judges the evidence gathered so far. It changes nothing and can be asked at any time.
func (j *Judge) Result() Result {
	v := newView(j)
	var r Result
	for _, c := range All() {
		for _, f := range c.judge(v) {
			f.Check = c.Name
			if e := &f.Evidence; e.To < e.From { // stamps that scatter
				e.From, e.To = e.To, e.From
			}
			f.Required = c.Required && f.Verdict != Absent
			r.Findings = append(r.Findings, f)
		}
	}
	r.Causes = causes(v, r.Findings)
	r.Verdict = overall(r.Findings)
	r.Next = next(v, &r)
	return r
}

// overall is fail if anything fails, else inconclusive if a required finding is, else
// pass. Where nothing was judged nothing has passed.
func overall(findings []Finding) Verdict {
	verdict, judged := Pass, false
	for i := range findings {
		switch f := &findings[i]; {
		case f.Verdict == Fail:
			return Fail
		case f.Verdict == Inconclusive && f.Required:
			verdict = Inconclusive
		case f.Verdict == Pass:
			judged = true
		}
	}
	if !judged {
		return Inconclusive
	}
	return verdict
}
