package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// driveView is what the page of the drive shows: a line for each corner, and for what else has failed.
type driveView struct {
	Lines []driveLine
}

// driveLine is one subject.
type driveLine struct {
	Name    string
	Href    string // empty: it has no page
	Mark    mark
	What    string // check and quantity of the worst finding; empty: there is none
	Text    string // its sentence, English
	Since   string // since when, or from when to when
	Times   string // how often
	More    string // how many others
	faults  int    // going on
	over    int
	subject string
}

func (s *Server) drive(w http.ResponseWriter, r *http.Request) { s.page(w, r, "/drive") }

// driving returns the drive that is under way; nil: none.
func (c *composer) driving() *checks.Drive {
	if c.m.snapshot == nil || !c.m.snapshot.Now.Drive.Now {
		return nil
	}
	return &c.m.snapshot.Now.Drive
}

// drive is a line for each corner in the order of the setup, then what else has failed.
func (c *composer) drive() driveView {
	var out driveView
	setup := &c.m.snapshot.Setup.Checks
	for i := range setup.Corners {
		name := setup.Corners[i].Name
		l := c.driveLine(name)
		l.Href = cornerPath(name) + c.query
		if l.Mark.State == "pass" {
			l.Mark = c.unfailed(i)
		}
		out.Lines = append(out.Lines, l)
	}
	known := func(name string) bool {
		return slices.ContainsFunc(out.Lines, func(l driveLine) bool { return l.subject == name })
	}
	for i := range c.m.result.Findings {
		if f := &c.m.result.Findings[i]; f.Failed != nil && !known(f.Subject) {
			l := c.driveLine(f.Subject)
			if f.Subject == "vehicle" {
				l.Name = c.t("vehicle")
			}
			out.Lines = append(out.Lines, l)
		}
	}
	return out
}

// unfailed is the mark of a corner of which nothing has failed: well in a drive where something of it has passed,
// else what the overview says of it.
func (c *composer) unfailed(i int) mark {
	m := c.cornerState(i)
	if m.State == "none" || c.m.snapshot.Now.Drive.From == 0 {
		return m
	}
	name := c.m.snapshot.Setup.Checks.Corners[i].Name
	if slices.ContainsFunc(c.m.result.Findings, func(f daemon.Finding) bool { return f.Subject == name && f.Verdict == checks.Pass }) {
		return mark{"pass", c.t("drive.well")}
	}
	return m
}

// driveLine shows the worst finding of a subject: one that fails now, and of those the first in the order of the
// checks; else the one that failed last.
func (c *composer) driveLine(subject string) driveLine {
	l := driveLine{Name: subject, subject: subject, Mark: mark{"pass", c.t("drive.well")}}
	var failed []*daemon.Finding
	for i := range c.m.result.Findings {
		f := &c.m.result.Findings[i]
		if f.Subject != subject || f.Failed == nil || !c.inDrive(f.Failed) {
			continue
		}
		failed = append(failed, f)
		if f.Failed.Now {
			l.faults++
		} else {
			l.over++
		}
	}
	if len(failed) == 0 {
		return l
	}
	slices.SortStableFunc(failed, func(a, b *daemon.Finding) int {
		switch {
		case a.Failed.Now != b.Failed.Now && a.Failed.Now:
			return -1
		case a.Failed.Now != b.Failed.Now:
			return 1
		case a.Failed.Now:
			return 0
		}
		return cmp.Compare(b.Failed.Last, a.Failed.Last)
	})
	f := failed[0]
	l.What = f.Check
	if f.Channel != "" {
		l.What += " " + c.t("quantity."+f.Channel)
	}
	l.Text = c.sentence(f)
	from, to := c.clock(f.Failed.First), c.clock(f.Failed.Last)
	if f.Failed.Now {
		l.Mark = mark{"fail", c.t("state.fail")}
		l.Since = c.t("drive.since", c.clock(f.Failed.Began), duration(daemon.Instant(c.m.snapshot.At)-f.Failed.Began))
	} else {
		l.Mark = mark{"open", c.t("drive.over")}
		if l.Since = c.t("drive.fromto", from, to); from == to {
			l.Since = c.t("drive.at", from)
		}
	}
	if f.Failed.Count > 1 {
		l.Times = c.t("drive.times", strconv.Itoa(f.Failed.Count))
	}
	if n := len(failed) - 1; n > 0 {
		l.More = c.t("drive.more", strconv.Itoa(n))
	}
	return l
}

// inDrive tells whether something failed in the newest drive, or fails now. Without a drive all counts.
func (c *composer) inDrive(f *daemon.Failed) bool {
	d := &c.m.snapshot.Now.Drive
	return f.Now || d.From == 0 || int64(f.Last) >= d.From
}

// sentence is what is said of a finding: by its cause where one explains it.
func (c *composer) sentence(f *daemon.Finding) string {
	for i := range c.m.result.Causes {
		if w := &c.m.result.Causes[i]; w.ID == f.Cause && slices.Contains(w.Explains, f.Name()) {
			return w.Sentence
		}
	}
	return f.Sentence
}

// driveHeadline is the one thing that counts during a drive.
func (c *composer) driveHeadline() headline {
	h := c.driveNext()
	h.Size = size(h.Word)
	h.Say = h.Word // without times that move
	return h
}

func (c *composer) driveNext() headline {
	if c.m.state == nothing || c.m.snapshot == nil {
		return headline{State: "none", Word: c.t("nodata"), Text: c.t("nodata.how")}
	}
	over := 0
	var subjects []string
	var text string
	for _, l := range c.drive().Lines {
		over += l.over
		if l.faults > 0 {
			if len(subjects) == 0 {
				text = l.Text
			}
			subjects = append(subjects, l.Name)
		}
	}
	when := c.whenDriven()
	switch {
	case len(subjects) > 0:
		return headline{State: "fail", Word: c.t("fault", together(subjects)), Text: text, Foreign: true, Then: when}
	case c.unrecorded() && c.m.snapshot.Now.Drive.Now:
		tape := c.tape()
		return headline{State: "fail", Word: tape.Word, Text: tape.Text, Then: when, Tape: true}
	case c.m.snapshot.Now.Drive.From == 0:
		return headline{State: "open", Word: c.t("drive.none"), Text: c.t("drive.none.how")}
	}
	h := headline{State: "pass", Word: c.t("drive.clear"), Text: when}
	if over > 0 {
		h.State, h.Word = "open", c.t("drive.clear.now")
		h.Then = c.t("drive.look")
	}
	return h
}

// whenDriven says since when it is driven, or when it was.
func (c *composer) whenDriven() string {
	d := &c.m.snapshot.Now.Drive
	from, to := daemon.Instant(d.From), daemon.Instant(d.To)
	switch {
	case d.From == 0:
		return c.t("drive.none")
	case d.Now:
		return c.t("drive.driving", c.clock(from), duration(daemon.Instant(c.m.snapshot.At)-from))
	}
	return c.t("drive.driven", c.clock(from), c.clock(to), duration(to-from))
}

// clock is the time of day where the daemon runs, by the clock as it was set last; of another day than the newest with its date.
func (c *composer) clock(at daemon.Instant) string {
	s := c.m.snapshot
	t, now := time.Unix(0, int64(at)-s.Ahead), time.Unix(0, s.At-s.Ahead)
	if t.YearDay() != now.YearDay() || t.Year() != now.Year() {
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("15:04:05")
}

// duration writes a length of time in the two largest units of h, min and s.
func duration(d daemon.Instant) string {
	s := max(int64(d)/1e9, 0)
	var parts []string
	for _, u := range []struct {
		name string
		s    int64
	}{{"h", 3600}, {"min", 60}, {"s", 1}} {
		if n := s / u.s; n > 0 || u.s == 1 && len(parts) == 0 {
			parts = append(parts, fmt.Sprintf("%d\u00a0%s", n, u.name))
		}
		s %= u.s
		if len(parts) == 2 {
			break
		}
	}
	return strings.Join(parts, " ")
}
