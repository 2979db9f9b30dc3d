package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// What of the events of a long run fits a screen.
const (
	maxEvents = 12
	maxDrives = 3
	maxOpen   = 4                   // points of what is still open that a drive shows one by one
	maxFailed = 2                   // failures beside which there is room for all values of a drive
	together  = daemon.Instant(5e9) // ns within which what begins and ends is one event
)

// event is what failed at one time, of one check or one cause.
type event struct {
	what     string
	subjects []string
	channels []string
	first    daemon.Instant
	last     daemon.Instant
	count    int
	now      bool
}

// events gathers the findings that failed, in the order in which they began: what one cause explains, or one
// check says of several at the same time, is one.
func events(r *daemon.Result) []event {
	var out []event
	near := func(a, b daemon.Instant) bool { return a-b <= together && b-a <= together }
	for i := range r.Findings {
		f := &r.Findings[i]
		if f.Failed == nil {
			continue
		}
		what := f.Check
		if f.Cause != "" {
			what, _, _ = strings.Cut(f.Cause, ":")
		}
		k := slices.IndexFunc(out, func(e event) bool {
			if e.what != what {
				return false
			}
			if f.Cause != "" && slices.Contains(e.subjects, f.Subject) {
				return true
			}
			same := len(e.subjects) == 1 && e.subjects[0] == f.Subject && e.now == f.Failed.Now
			return same || near(e.first, f.Failed.First) && near(e.last, f.Failed.Last) && e.count == f.Failed.Count && e.now == f.Failed.Now
		})
		if k < 0 {
			k = len(out)
			out = append(out, event{what: what, first: f.Failed.First, last: f.Failed.Last})
		}
		e := &out[k]
		e.first, e.last = min(e.first, f.Failed.First), max(e.last, f.Failed.Last)
		e.count, e.now = max(e.count, f.Failed.Count), e.now || f.Failed.Now
		if !slices.Contains(e.subjects, f.Subject) {
			e.subjects = append(e.subjects, f.Subject)
		}
		if f.Channel != "" && f.Cause == "" && !slices.Contains(e.channels, f.Channel) {
			e.channels = append(e.channels, f.Channel)
		}
	}
	slices.SortStableFunc(out, func(a, b event) int { return cmp.Compare(a.first, b.first) })
	return out
}

// eventful tells whether the times at which something failed tell more than the verdicts do: in a drive, and where
// something is over.
func eventful(r *daemon.Result) bool {
	return len(r.Drives) > 0 || slices.ContainsFunc(r.Findings, func(f daemon.Finding) bool {
		return f.Failed != nil && (!f.Failed.Now || f.Failed.Count > 1)
	})
}

// times says when it was driven and what failed when.
func (t text) times() {
	r := t.result
	list := events(r)
	if !eventful(r) || len(r.Drives)+len(list) == 0 {
		return
	}
	t.heading("When")
	start := r.Captures[0].First
	for i := max(0, len(r.Drives)-maxDrives); i < len(r.Drives); i++ {
		d := &r.Drives[i]
		line := fmt.Sprintf("driven from %s to %s, %s", moment(d.From, start), moment(d.To, start), lasted(d.To-d.From))
		if d.Now {
			line = fmt.Sprintf("driving since %s, %s", moment(d.From, start), lasted(d.To-d.From))
		}
		t.WriteString("  " + t.style.plain(line) + "\n")
	}
	if len(list) == 0 {
		t.WriteString("  nothing failed\n")
		return
	}
	tab := table{indent: 2}
	tab.add(words("", "first failed", "last failed", "", "")...)
	for i := range list {
		e := &list[i]
		if i == maxEvents-1 && len(list) > maxEvents {
			tab.add(words(fmt.Sprintf("and %d more", len(list)-i))...)
			break
		}
		state := "is over"
		if e.now {
			state = "goes on"
		}
		times := "once"
		if e.count > 1 {
			times = fmt.Sprintf("%d times", e.count)
		}
		what := strings.Join(append(append(slices.Clone(e.subjects), e.what), e.channels...), " ")
		tab.add(words(printable(what), moment(e.first, start), moment(e.last, start), times, state)...)
	}
	tab.write(t.Builder, t.style)
}

// ofDrive tells whether a value belongs into the table. After a drive those do of which one failed, and where little
// has failed those of the drive, so that all fits a screen.
func (t text) ofDrive(all []checks.Check, f *daemon.Finding) bool {
	if len(t.result.Drives) == 0 {
		return true
	}
	failed := 0
	for i := range t.result.Findings {
		if t.result.Findings[i].Verdict == checks.Fail {
			failed++
		}
	}
	if g := groupOf(all, f.Check); failed <= maxFailed && (g == checks.DriveGroup || g == checks.Ground) {
		return true
	}
	return slices.ContainsFunc(t.result.Findings, func(o daemon.Finding) bool {
		return o.Check == f.Check && o.Channel == f.Channel && o.Verdict == checks.Fail
	})
}

// moment is a time of day, UTC, with its date where that is not that of the start.
func moment(at, start daemon.Instant) string {
	t, s := time.Unix(0, int64(at)).UTC(), time.Unix(0, int64(start)).UTC()
	if t.YearDay() != s.YearDay() || t.Year() != s.Year() {
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("15:04:05")
}

// lasted is a length of time in h, min and s.
func lasted(d daemon.Instant) string {
	s := max(int64(d)/1e9, 0)
	switch {
	case s >= 3600:
		return fmt.Sprintf("%d h %d min", s/3600, s/60%60)
	case s >= 60:
		return fmt.Sprintf("%d min %d s", s/60, s%60)
	}
	return fmt.Sprintf("%d s", s)
}

// openInDrive says in one place what a drive leaves open: it is no function test.
func (t text) openInDrive() {
	var names []string
	for i := range t.result.Findings {
		if f := &t.result.Findings[i]; slices.Contains(t.result.Open, f.Name()) && !slices.Contains(names, f.Check) {
			names = append(names, f.Check)
		}
	}
	t.heading("Still open")
	t.WriteString("  ")
	line := fmt.Sprintf("%d findings of the function test, by the checks %s", len(t.result.Open), printable(strings.Join(names, ", ")))
	if n := len(t.result.Confirmations); n > 0 && t.justDriven() {
		line += fmt.Sprintf("; and what a person confirms (%d)", n)
	}
	wrap(t.Builder, t.style.plain(line), 2, t.style.width())
}

// justDriven tells whether it was driven and nobody has confirmed anything: it is no function test then.
func (t text) justDriven() bool {
	return len(t.result.Drives) > 0 && len(t.result.Open) > maxOpen &&
		!slices.ContainsFunc(t.result.Confirmations, func(c daemon.Confirmation) bool { return c.State != daemon.StateOpen })
}
