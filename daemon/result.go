package daemon

import (
	"fmt"
	"math"
	"time"

	"plumbline/checks"
	"plumbline/daemon/setup"
)

// Schema is the number of the result format below. It grows when a reader of
// the old format would misread the new one.
const Schema = 1

// Result is what is known of one vehicle after one capture, or so far. It is a
// plain value that survives JSON; the same input gives the same bytes.
type Result struct {
	Schema        int            `json:"schema"`
	Program       string         `json:"program"` // name and version
	Setup         SetupFile      `json:"setup"`
	Captures      []Capture      `json:"captures"`
	Transducers   []Transducer   `json:"transducers"` // by corner of the setup
	Verdict       checks.Verdict `json:"verdict"`
	Findings      []Finding      `json:"findings"`
	Causes        []Cause        `json:"causes"`
	Confirmations []Confirmation `json:"confirmations"`
	Deviations    []Deviation    `json:"deviations,omitempty"` // steps gone on without; of who tests live
	Open          []string       `json:"open"`                 // check/subject/channel of what is required and not yet judged
	Drives        []Drive        `json:"drives,omitempty"`     // the newest, oldest first
	Next          string         `json:"-"`                    // the one next thing to do; empty where there is none
}

// SetupFile names the setup that was judged by.
type SetupFile struct {
	File    string `json:"file"`
	SHA256  string `json:"sha256"`
	Vehicle string `json:"vehicle"`
}

// Capture names what was judged.
type Capture struct {
	File     string   `json:"file"` // as it was given
	Frames   uint64   `json:"frames"`
	First    Instant  `json:"first,omitzero"`
	Last     Instant  `json:"last,omitzero"`
	Warnings []string `json:"warnings"`
	Unusable string   `json:"-"` // why it could not be judged, or not to its end; the last of the warnings
}

// Finding is what one check says of one subject. A number that is not known is nil.
type Finding struct {
	Check       string         `json:"check"`
	Subject     string         `json:"subject"`
	Channel     string         `json:"channel"` // empty: the whole subject
	Verdict     checks.Verdict `json:"verdict"`
	Value       *float64       `json:"value,omitempty"`       // SI
	Uncertainty *float64       `json:"uncertainty,omitempty"` // expanded, 95 %
	Parts       *Parts         `json:"parts,omitempty"`       // what the uncertainty is made of
	Limit       *float64       `json:"limit,omitempty"`
	Unit        string         `json:"unit"`
	Evidence    Evidence       `json:"evidence"`
	Sentence    string         `json:"sentence"`
	Next        string         `json:"next"`
	Cause       string         `json:"cause"`            // id of the cause that explains it
	Required    bool           `json:"required"`         // holds the overall verdict back while inconclusive
	Failed      *Failed        `json:"failed,omitempty"` // nil: it never failed
}

// Drive is a stretch of driving that was recognised from the signals.
type Drive struct {
	From Instant `json:"from"` // when it began to roll
	To   Instant `json:"to"`   // when it last rolled
	Now  bool    `json:"now"`  // it is under way
}

// Failed says when a finding failed, in whole seconds of event time. A check that says of
// what is over that it failed has a verdict of fail and Now false.
type Failed struct {
	First Instant `json:"first"` // when it failed first
	Began Instant `json:"began"` // when that began last
	Last  Instant `json:"last"`  // when it failed last
	Count int     `json:"count"` // how often that began
	Now   bool    `json:"now"`   // it goes on
}

// Name is the finding's place in a result: check/subject/channel, without the
// last slash where there is no channel.
func (f *Finding) Name() string {
	if f.Channel == "" {
		return f.Check + "/" + f.Subject
	}
	return f.Check + "/" + f.Subject + "/" + f.Channel
}

// Parts are the standard uncertainties that an uncertainty is made of, each in the
// unit of the value: what repeating shows (scatter), with its degrees of freedom, and what it
// cannot show: half a raw step, a count of the encoder. See [checks.Parts].
type Parts struct {
	Scatter    float64 `json:"scatter"`
	DOF        float64 `json:"dof"`
	Resolution float64 `json:"resolution"`
	Count      float64 `json:"count,omitzero"`
}

// Evidence says what a finding rests on.
type Evidence struct {
	Samples     int64   `json:"samples"`
	Revolutions float64 `json:"revolutions"` // turns of the wheel
	From        Instant `json:"from,omitzero"`
	To          Instant `json:"to,omitzero"`
}

// Cause explains several findings at once.
type Cause struct {
	ID       string   `json:"id"`
	Subjects []string `json:"subjects"`
	Sentence string   `json:"sentence"`
	Next     string   `json:"next"`
	Explains []string `json:"explains"` // names of findings
}

// Instant is event time, ns since 1970-01-01 UTC; 0 is unknown. As text it is
// RFC 3339 in UTC with nine decimals, so that texts sort as times do.
type Instant int64

const instantLayout = "2006-01-02T15:04:05.000000000Z"

// String returns the text form.
func (t Instant) String() string { return time.Unix(0, int64(t)).UTC().Format(instantLayout) }

// MarshalText returns the text form.
func (t Instant) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads the text form.
func (t *Instant) UnmarshalText(text []byte) error {
	at, err := time.Parse(time.RFC3339Nano, string(text))
	if err != nil {
		return fmt.Errorf("daemon: time: %w", err)
	}
	*t = Instant(at.UnixNano())
	return nil
}

// fill puts what the checks say into r. It sets the verdict to that of the
// checks; a capture that was not usable to its end cannot pass.
func (r *Result) fill(from checks.Result) {
	r.Verdict, r.Next = from.Verdict, from.Next
	for i := range min(len(from.Corners), len(r.Transducers)) {
		r.Transducers[i].heard(&from.Corners[i])
	}
	r.Findings = make([]Finding, 0, len(from.Findings))
	for i := range from.Findings {
		f := finding(&from.Findings[i])
		r.Findings = append(r.Findings, f)
		if f.Required && f.Verdict == checks.Inconclusive {
			r.Open = append(r.Open, f.Name())
		}
	}
	for _, d := range from.Drives {
		r.Drives = append(r.Drives, Drive{Instant(d.From), Instant(d.To), d.Now})
	}
	for _, c := range from.Causes {
		r.Causes = append(r.Causes, Cause{
			ID: c.ID, Sentence: c.Sentence, Next: c.Next,
			Subjects: append([]string{}, c.Subjects...),
			Explains: append([]string{}, c.Explains...),
		})
	}
	if r.Verdict == checks.Pass && r.Unusable() {
		r.Verdict = checks.Inconclusive
	}
}

// byClock turns the event time of a judge into that of a clock which it is ahead of, ns. Who set the clock
// had it wrong before: so what came before is told by the new time as well, and all lengths of time stay right.
func (r *Result) byClock(ahead int64) {
	if ahead == 0 {
		return
	}
	turn := func(times ...*Instant) {
		for _, t := range times {
			if *t != 0 {
				*t -= Instant(ahead)
			}
		}
	}
	for i := range r.Captures {
		turn(&r.Captures[i].First) // the last is stamped by that clock
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		turn(&f.Evidence.From, &f.Evidence.To)
		if f.Failed != nil {
			turn(&f.Failed.First, &f.Failed.Began, &f.Failed.Last)
		}
	}
	for i := range r.Drives {
		turn(&r.Drives[i].From, &r.Drives[i].To)
	}
}

// Unusable reports whether a capture could not be judged, or not to its end.
func (r *Result) Unusable() bool {
	for i := range r.Captures {
		if r.Captures[i].Unusable != "" {
			return true
		}
	}
	return false
}

// confirmation is open until a person gives it; a bound that is not finite is none.
func confirmation(c *setup.Confirmation) Confirmation {
	out := Confirmation{ID: c.ID, Text: c.Text, Unit: c.Unit, State: StateOpen}
	if c.HasValue {
		out.Min = number(checks.Number{Value: c.Min, Known: true})
		out.Max = number(checks.Number{Value: c.Max, Known: true})
	}
	return out
}

func finding(f *checks.Finding) Finding {
	return Finding{
		Check: f.Check, Subject: f.Subject, Channel: f.Channel, Verdict: f.Verdict, Required: f.Required,
		Value: number(f.Value), Uncertainty: number(f.Uncertainty), Parts: parts(&f.Parts), Limit: number(f.Limit), Unit: f.Unit,
		Evidence: Evidence{
			Samples: f.Evidence.Samples, Revolutions: finite(f.Evidence.Revolutions),
			From: Instant(f.Evidence.From), To: Instant(f.Evidence.To),
		},
		Sentence: f.Sentence, Next: f.Next, Cause: f.Cause, Failed: failed(f.Failed),
	}
}

func failed(f checks.Failed) *Failed {
	if f.Count == 0 {
		return nil
	}
	return &Failed{Instant(f.First), Instant(f.Began), Instant(f.Last), f.Count, f.Now}
}

// parts returns nil where none are known.
func parts(p *checks.Parts) *Parts {
	if p.DOF == 0 {
		return nil
	}
	return &Parts{Scatter: finite(p.Scatter), DOF: finite(p.DOF), Resolution: finite(p.Resolution), Count: finite(p.Count)}
}

// number returns nil for what is not known and for what is not a number.
func number(n checks.Number) *float64 {
	if !n.Known || math.IsNaN(n.Value) || math.IsInf(n.Value, 0) {
		return nil
	}
	v := n.Value + 0 // a negative zero becomes zero
	return &v
}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v + 0
}
