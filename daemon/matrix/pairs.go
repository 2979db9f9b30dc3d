package matrix

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
)

// PairRow is two faults at once.
type PairRow struct {
	A, B     string // kinds
	Where    string // "different corners" or "the same corner"
	Runs     int
	Both     int // both named: the right check of the right corner failed, or a cause named it
	Innocent int // runs in which a corner that nothing is wrong with is blamed
	Skip     string
	Notes    []string
}

// common are thirteen faults that are common in a workshop *(practice)*, in the sizes that the simulator has them.
// The channel that stands still is not one that others are read from, else it hides what is wrong beside it.
func common() []string {
	return []string{
		"harness", "zero", "weight", "drag", "angle-offset", "angle-sense",
		"angle-slip", "lost", "frozen-fy", "noise", "hum", "supply", "chafe",
	}
}

// hidden says why one fault cannot be told beside another on the same corner; empty where it can.
func hidden(a, b string) string {
	pair := func(x, y string) bool { return a == x && b == y || a == y && b == x }
	switch {
	case a == "harness" || b == "harness":
		return "a harness has two corners already"
	case pair("angle-offset", "angle-sense"):
		return "an angle that counts backward has no offset"
	case pair("angle-offset", "angle-slip"):
		return "an angle that loses counts has no offset that stays"
	}
	return ""
}

const (
	apart    = "different corners"
	together = "the same corner"
)

// suspect is one of two faults and what must be said of it.
type suspect struct {
	kind     simulated.Kind
	fault    simulated.Fault
	subjects []string
}

func newSuspect(kind, corner string) suspect {
	all := simulated.Kinds()
	k := all[slices.IndexFunc(all, func(k simulated.Kind) bool { return k.Name == kind })]
	return suspect{k, simulated.Fault{Kind: kind, Corner: corner, Value: k.Default}, strings.Split(corner, ",")}
}

// named tells whether a result names the fault: its check fails, or a cause is named, on each of its corners.
func (s *suspect) named(r *daemon.Result) bool {
	for _, subject := range s.subjects {
		fails := slices.ContainsFunc(r.Findings, func(f daemon.Finding) bool {
			return f.Check == s.kind.Check && f.Subject == subject && f.Verdict == checks.Fail
		})
		if !fails {
			return false
		}
	}
	return true
}

// Pairs tries every pair of the common faults on a vehicle with four wheels, on different corners and, where
// one does not hide the other, on the same.
func Pairs(ctx context.Context, c Config) ([]PairRow, error) {
	c, err := c.withDefaults()
	if err != nil {
		return nil, err
	}
	var (
		rows  []PairRow
		jobs  []job
		row   []int
		cases [][2]suspect
	)
	for i, a := range common() {
		for _, b := range common()[i+1:] {
			for _, where := range [2]string{apart, together} {
				r := PairRow{A: a, B: b, Where: where}
				if where == together {
					r.Skip = hidden(a, b)
				}
				rows = append(rows, r)
				if r.Skip != "" {
					continue
				}
				for _, fixed := range [2]bool{false, true} {
					for n := range c.Seeds {
						pair := couple(a, b, where, n)
						jobs = append(jobs, job{vehicle{corners: 4, fixed: fixed}, uint64(n + 1), []simulated.Fault{pair[0].fault, pair[1].fault}})
						row = append(row, len(rows)-1)
						cases = append(cases, pair)
					}
				}
			}
		}
	}
	type outcome struct {
		missed   string
		innocent string
	}
	outcomes := make([]outcome, len(jobs))
	err = c.runAll(ctx, jobs, func(i int, r *daemon.Result) {
		o := &outcomes[i]
		var guilty []string
		for k := range cases[i] {
			s := &cases[i][k]
			guilty = append(guilty, s.subjects...)
			if !s.named(r) && o.missed == "" {
				o.missed = s.fault.String() + " is not named: " + look(r, s.kind.Check, "", s.subjects, nil).sentence
			}
		}
		o.innocent = blamed(r, guilty)
	})
	if err != nil {
		return nil, err
	}
	for i := range outcomes {
		o, r := &outcomes[i], &rows[row[i]]
		r.Runs++
		note := func(text string) {
			if len(r.Notes) < 2 {
				r.Notes = append(r.Notes, jobs[i].where()+": "+text)
			}
		}
		if o.missed == "" {
			r.Both++
		} else {
			note(o.missed)
		}
		if o.innocent != "" {
			r.Innocent++
			note(o.innocent)
		}
	}
	return rows, nil
}

// couple puts two faults on corners that change with n: the second on each of the others in turn.
func couple(a, b, where string, n int) [2]suspect {
	corners := [4]string{"FL", "FR", "RL", "RR"}
	first, second := corners[n%4], corners[(n+1+n/4%3)%4]
	if where == together {
		second = first
	}
	if a == "harness" { // the first of the common ones
		third := corners[slices.IndexFunc(corners[:], func(c string) bool { return c != first && c != second })]
		return [2]suspect{newSuspect(a, first+","+third), newSuspect(b, second)}
	}
	return [2]suspect{newSuspect(a, first), newSuspect(b, second)}
}

// where says how to find a run again.
func (j *job) where() string {
	words := []string{fmt.Sprintf("%s, seed %d", j.vehicle, j.seed)}
	for i := range j.faults {
		words = append(words, j.faults[i].String())
	}
	return strings.Join(words, ", ")
}
