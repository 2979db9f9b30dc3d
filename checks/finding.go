package checks

// Verdict is what a check says. Its zero value is Inconclusive: what was not
// judged has not passed.
type Verdict uint8

// The verdicts.
const (
	Inconclusive Verdict = iota // not enough evidence yet; the sentence says what is missing
	Pass
	Fail
	Absent // nothing is fitted that could be judged
)

// String returns the word that results use.
func (v Verdict) String() string {
	switch v {
	case Pass:
		return "pass"
	case Fail:
		return "fail"
	case Absent:
		return "absent"
	case Inconclusive:
	}
	return "inconclusive"
}

// Number is a value that may be missing. The zero value is missing.
type Number struct {
	Value float64 // finite where Known
	Known bool
}

// Evidence says what a finding rests on.
type Evidence struct {
	Samples     int64
	Revolutions float64
	From, To    int64 // event time, ns; both 0 where there is none
}

// Parts are the standard uncertainties that an uncertainty is made of, each in the
// unit of the value. Who compares two tests needs them apart: what scatters is
// another one each time, what the amplifier rounds is the same. The zero value says
// nothing.
type Parts struct {
	Scatter    float64 // from repeating, type A
	DOF        float64 // degrees of freedom of Scatter; 0: no parts are known
	Resolution float64 // half a raw step of the channels, rectangular, type B
	Count      float64 // an encoder count, rectangular, type B
}

// Finding is what one check says of one subject.
type Finding struct {
	Check       string
	Subject     string // a corner, an optic, a source or "vehicle"
	Channel     string // name of the quantity; empty: the whole subject
	Verdict     Verdict
	Value       Number // SI
	Uncertainty Number // expanded, 95 %
	Parts       Parts  // what Uncertainty is made of, where it says so
	Limit       Number
	Unit        string
	Evidence    Evidence
	Sentence    string // what is so
	Next        string // what to do; empty where there is nothing to do
	Cause       string // id of the cause that explains it; empty: none
	Required    bool   // holds the overall verdict back while inconclusive
	Failed      Failed // when it failed; the zero value: never, or nobody followed it
}

// Failed says when a finding failed, as far as [Judge.Follow] has seen. Times are event time, ns, of whole seconds.
type Failed struct {
	First int64 // when it failed first
	Began int64 // when that began last
	Last  int64 // when it failed last
	Count int   // how often that began; 0: never
	Now   bool  // it fails now, and what makes it fail goes on
}

// Cause explains several findings at once.
type Cause struct {
	ID       string
	Subjects []string
	Sentence string
	Next     string
	Explains []string // check/subject/channel
}
