package main

import (
	"errors"
	"fmt"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/report"
)

// teller says on the way what is done and what is found.
type teller struct {
	g       *global
	style   report.Style
	judge   *daemon.Judge
	spans   []simulated.Span
	next    int // phase that begins next
	looked  int64
	every   int64 // ns of event time between two looks
	newest  atomic.Pointer[daemon.Snapshot]
	watch   daemon.Watch
	test    *daemon.Test
	tape    *record.Recorder // nil: nothing is recorded
	subject int              // columns
	err     error
}

// begin tells of another test. It is called where the judge is.
func (t *teller) begin(j *daemon.Judge, spans []simulated.Span) {
	t.judge, t.spans, t.next, t.looked, t.watch = j, spans, 0, 0, daemon.Watch{}
	j.Grid = t.grid
}

// end tells what came out.
func (t *teller) end() ([]daemon.Result, error) {
	s := t.judge.Snapshot(0)
	s.At = int64(s.Result.Captures[0].Last)
	s.Ended = true
	t.publish(s)
	t.tell(s.At, &s.Result)
	if t.err != nil {
		return nil, t.err
	}
	fmt.Fprintln(t.g.out)
	results := []daemon.Result{s.Result}
	return results, report.Text(t.g.out, results, t.g.style(t.g.out))
}

// grid looks at the verdicts now and then; Judge.Grid calls it.
func (t *teller) grid(at int64) {
	if t.err != nil {
		return
	}
	for ; t.next < len(t.spans) && t.spans[t.next].From <= at; t.next++ {
		s := &t.spans[t.next]
		t.err = errors.Join(t.err, report.Phase(t.g.out, t.seconds(s.From), phase(&s.Phase), t.style))
	}
	if at-t.looked < t.every {
		return
	}
	t.looked = at
	s := t.judge.Snapshot(at)
	t.publish(s)
	t.tell(at, &s.Result)
}

// publish makes what is known now the newest that the page can show.
func (t *teller) publish(s *daemon.Snapshot) {
	said := t.test.Said()
	said.Apply(&s.Result)
	if t.tape != nil {
		s.Recording = t.tape.Stats()
	}
	t.newest.Store(s)
}

func (t *teller) tell(at int64, r *daemon.Result) {
	for i := range r.Findings {
		t.subject = max(t.subject, utf8.RuneCountInString(r.Findings[i].Subject))
	}
	for _, c := range t.watch.Look(r) {
		t.err = errors.Join(t.err, report.Change(t.g.out, t.seconds(at), &c, t.subject, checkColumns(), t.style))
	}
}

func (t *teller) seconds(at int64) float64 {
	if len(t.spans) == 0 {
		return 0
	}
	return time.Duration(at - t.spans[0].From).Seconds()
}

// checkColumns is how wide the longest name of a check is.
func checkColumns() int {
	widest := 0
	for _, c := range checks.All() {
		widest = max(widest, len(c.Name))
	}
	return widest
}

// phase says what is being done with the vehicle.
func phase(p *simulated.Phase) string {
	of := func(all string) string {
		if p.Corner == "" {
			return all
		}
		return p.Corner
	}
	switch p.Kind {
	case simulated.Rest:
		return "at rest"
	case simulated.Lift:
		return "lifting " + of("the vehicle")
	case simulated.Turn:
		return "turning " + p.Corner + " by hand, forward and back"
	case simulated.Lower:
		return "lowering " + of("the vehicle")
	case simulated.Drive:
		if p.SpeedMps == 0 {
			return "stopping"
		}
		return fmt.Sprintf("driving at %.0f km/h", p.SpeedMps*3.6)
	}
	return string(p.Kind)
}
