package matrix

import (
	"context"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"plumbline/checks/fit"
	"plumbline/daemon/report"
)

// Report is all that was tried. A part that is nil was not.
type Report struct {
	Command string // that wrote it
	Faults  []Row
	Clean   []CleanRow
	Pairs   []PairRow
}

// Parts says what is to be tried.
type Parts struct{ Faults, Clean, Pairs bool }

// Try tries the parts. Its only errors are those of Config and ctx, and of a simulation that cannot be.
func Try(ctx context.Context, c Config, p Parts) (Report, error) {
	var (
		r   Report
		err error
	)
	if p.Faults {
		if r.Faults, err = Faults(ctx, c); err != nil {
			return r, err
		}
	}
	if p.Clean {
		if r.Clean, err = Clean(ctx, c); err != nil {
			return r, err
		}
	}
	if p.Pairs {
		r.Pairs, err = Pairs(ctx, c)
	}
	return r, err
}

// The rules.
const (
	halfFails  = 0.025 // share of fails from half the limit to the limit that must not be reached
	byChance   = 1e-4  // probability of so many fails at the limit, of that share, below which it is no chance
	pairsNamed = 0.95  // share of runs in which both of two faults are named, at the least
)

// Broken returns a sentence for each rule that is broken, with the first run that shows it.
func (r *Report) Broken() []string {
	var out []string
	say := func(notes []string, format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		if len(notes) > 0 {
			text += "; " + notes[0]
		}
		out = append(out, text)
	}
	for i := range r.Faults {
		row := &r.Faults[i]
		for k, t := range row.Frames {
			name := fmt.Sprintf("%s, %s, %s", row.Kind, row.size(), frames()[k])
			if missed := row.missed(&t); missed > 0 {
				say(row.Notes, "%s: missed in %d of %d runs", name, missed, t.Runs)
			}
			if row.Times == half && t.Runs > 0 && float64(t.Fail) >= halfFails*float64(t.Runs) {
				say(row.Notes, "%s: fails in %d of %d runs", name, t.Fail, t.Runs)
			}
			if row.Times == 1 && fit.PoissonAtLeast(int64(t.Fail), halfFails*float64(t.Runs)) < byChance {
				say(row.Notes, "%s: fails in %d of %d runs", name, t.Fail, t.Runs)
			}
			if t.Innocent > 0 {
				say(row.Notes, "%s: blames an innocent in %d of %d runs", name, t.Innocent, t.Runs)
			}
		}
	}
	for i := range r.Clean {
		if row := &r.Clean[i]; row.Failed > 0 {
			say(row.Notes, "clean, %s: something fails in %d of %d runs", row.Vehicle, row.Failed, row.Runs)
		}
	}
	for i := range r.Pairs {
		row := &r.Pairs[i]
		name := row.A + " and " + row.B + ", " + row.Where
		if float64(row.Both) < pairsNamed*float64(row.Runs) {
			say(row.Notes, "%s: both named in %d of %d runs", name, row.Both, row.Runs)
		}
		if row.Innocent > 0 {
			say(row.Notes, "%s: blames an innocent in %d of %d runs", name, row.Innocent, row.Runs)
		}
	}
	return out
}

// missed returns in how many runs a fault that must be found was not.
func (r *Row) missed(t *Tally) int {
	if !r.must() {
		return 0
	}
	return t.Runs - t.Fail
}

func frames() [2]string { return [2]string{"rotating", "fixed"} }

// size is the size in words.
func (r *Row) size() string {
	switch r.Times {
	case 0:
		return "as it is"
	case half:
		return "½"
	}
	return fmt.Sprintf("%g", r.Times)
}

// value is what was tried, with its unit: one value, two, or the ends of more.
func (r *Row) value() string {
	var text string
	show := func(v float64) string { return strings.Replace(fmt.Sprintf("%.4g", v), "-", "−", 1) }
	if r.Times == 0 {
		show = func(v float64) string { return fmt.Sprintf("%g", v) }
	}
	switch n := len(r.Values); n {
	case 0:
		return "–"
	case 1:
		text = show(r.Values[0])
	case 2:
		text = show(r.Values[0]) + ", " + show(r.Values[1])
		if r.Values[0] == -r.Values[1] {
			text = "±" + show(r.Values[1])
		}
	default:
		text = show(r.Values[0]) + " … " + show(r.Values[n-1])
	}
	return strings.TrimSpace(text + " " + r.Unit)
}

// share writes n of all in percent, with a decimal where it needs one.
func share(n, all int) string {
	if all == 0 {
		return "–"
	}
	p := 100 * float64(n) / float64(all)
	if p == math.Trunc(p) {
		return fmt.Sprintf("%.0f %%", p)
	}
	return fmt.Sprintf("%.1f %%", p)
}

// remark is what is to be said of a row.
func (r *Row) remark() string {
	if r.Free != "" {
		return r.Free
	}
	return r.Skip
}

// faultTable and its like return the rows of a table, the first its heading.
func (r *Report) faultTable() [][]string {
	out := [][]string{{"fault", "check", "× limit", "value", "runs", "found, rotating", "found, fixed", "open", "passed", "innocent blamed", "remark"}}
	for i := range r.Faults {
		row := &r.Faults[i]
		a, b := &row.Frames[0], &row.Frames[1]
		all := a.Runs + b.Runs
		out = append(out, []string{
			row.Kind, row.Check, row.size(), row.value(), strconv.Itoa(all), share(a.Fail, a.Runs), share(b.Fail, b.Runs),
			share(a.Inconclusive+b.Inconclusive, all), share(a.Pass+b.Pass, all), share(a.Innocent+b.Innocent, all), row.remark(),
		})
	}
	return out
}

func (r *Report) cleanTable() [][]string {
	out := [][]string{{"wheels and frame", "runs", "something failed", "something stayed open"}}
	for i := range r.Clean {
		row := &r.Clean[i]
		out = append(out, []string{row.Vehicle, strconv.Itoa(row.Runs), share(row.Failed, row.Runs), share(row.Open, row.Runs)})
	}
	return out
}

func (r *Report) pairTable() [][]string {
	out := [][]string{{"one fault", "the other", "on", "runs", "both named", "innocent blamed", "remark"}}
	for i := range r.Pairs {
		row := &r.Pairs[i]
		out = append(out, []string{row.A, row.B, row.Where, strconv.Itoa(row.Runs), share(row.Both, row.Runs), share(row.Innocent, row.Runs), row.Skip})
	}
	return out
}

const (
	aboutFaults = "Each fault on each corner, sensor or pair of corners that can have it, of vehicles with one, two and four wheels. Found: the named check fails there. Open: it is inconclusive. Innocent: what has nothing to do with the fault."
	aboutClean  = "Nothing is wrong beyond the small flaws that the simulator gives a healthy vehicle. Every tenth drives on the road for three minutes as well."
	aboutPairs  = "Two of thirteen common faults at once on a vehicle with four wheels, in rotating and fixed axes. Named: the check of each fails on its corner."
)

// verdict sums up the rules.
func (r *Report) verdict() string {
	n := len(r.Broken())
	rules := "at twice the limit and above, and as it is, a fault is found; from half the limit to the limit it fails in less than 2.5 %, as far as the runs can tell; no innocent is blamed; nothing fails where nothing is wrong; both of two faults are named in at least 95 %"
	if n == 0 {
		return "All rules are kept: " + rules + "."
	}
	return fmt.Sprintf("Rules are broken in %d places: %s.", n, rules)
}

// part is a table and what is said over it.
type part struct {
	title, about string
	table        [][]string
}

func (r *Report) parts() []part {
	var out []part
	if r.Faults != nil {
		out = append(out, part{"Faults", aboutFaults, r.faultTable()})
	}
	if r.Clean != nil {
		out = append(out, part{"Nothing wrong", aboutClean, r.cleanTable()})
	}
	if r.Pairs != nil {
		out = append(out, part{"Pairs of faults", aboutPairs, r.pairTable()})
	}
	return out
}

// Text writes the report as aligned columns.
func (r *Report) Text(w io.Writer) error {
	for _, p := range r.parts() {
		if _, err := fmt.Fprintf(w, "%s\n%s\n\n", p.title, p.about); err != nil {
			return fmt.Errorf("matrix: %w", err)
		}
		if err := report.Columns(w, p.table); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, r.verdict())
	for _, b := range r.Broken() {
		fmt.Fprintln(w, "* "+b)
	}
	return nil
}

// Markdown writes the report as a page.
func (r *Report) Markdown(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# Fault matrix\n\nWritten by `%s`. The simulator shares its model of the wheel with the checks; what an outside model says is in testdata/captures.\n\n%s\n", r.Command, r.verdict())
	for _, broken := range r.Broken() {
		fmt.Fprintf(&b, "* %s\n", broken)
	}
	for _, p := range r.parts() {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n", p.title, p.about)
		for i, row := range p.table {
			fmt.Fprintf(&b, "| %s |\n", strings.Join(row, " | "))
			if i == 0 {
				b.WriteString("|" + strings.Repeat(" --- |", len(row)) + "\n")
			}
		}
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("matrix: %w", err)
	}
	return nil
}
