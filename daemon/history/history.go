package history

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// Schema is the number of the format of a history.
const Schema = 1

// History is what the results of a folder say of each transducer. It is a plain
// value; the same folder gives the same bytes.
type History struct {
	Schema      int          `json:"schema"`
	Kind        string       `json:"kind"` // "history"
	Program     string       `json:"program"`
	Folder      string       `json:"folder"`     // as it was given
	Tests       int          `json:"tests"`      // results that were read, each test once
	Again       int          `json:"again"`      // results of a test that another file holds as well; left out
	Other       int          `json:"other"`      // JSON files that are no results; passed over
	Unnumbered  int          `json:"unnumbered"` // corners whose transducer has no number that is its own
	Problems    []Problem    `json:"problems"`
	Transducers []Transducer `json:"transducers"` // by serial number
}

// Problem is a file that could not be used.
type Problem struct {
	File string `json:"file"` // below the folder
	Text string `json:"text"`
}

// Transducer is one transducer over all its tests.
type Transducer struct {
	Serial  uint64   `json:"serial"`
	Points  []Point  `json:"points"` // by time
	Trends  []Trend  `json:"trends"`
	Remarks []string `json:"remarks"`
}

// Point is one test of a transducer.
type Point struct {
	At           daemon.Instant    `json:"at"` // the first frame
	File         string            `json:"file"`
	Vehicle      string            `json:"vehicle"`
	Corner       string            `json:"corner"`
	Side         string            `json:"side"`
	SerialFrom   daemon.SerialFrom `json:"serial_from"`
	WheelMassKg  float64           `json:"wheel_mass_kg,omitzero"`
	TemperatureC *float64          `json:"temperature_c,omitempty"` // middle of what it told
	Values       []Value           `json:"values"`                  // what has a value with an uncertainty
}

// Value is one quantity of a test.
type Value struct {
	Check       string  `json:"check"`
	Channel     string  `json:"channel"`
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"uncertainty"` // expanded, 95 %
	Unit        string  `json:"unit"`
}

// Of returns the value of a quantity; false where the test has none.
func (p *Point) Of(check, channel string) (Value, bool) {
	i := slices.IndexFunc(p.Values, func(v Value) bool { return v.Check == check && v.Channel == channel })
	if i < 0 {
		return Value{}, false
	}
	return p.Values[i], true
}

// Quantity is what is followed.
type Quantity struct{ Check, Channel string }

// Quantities lists what is followed, in the order of the checks.
func Quantities() []Quantity {
	var out []Quantity
	for _, channel := range []string{"fx", "fy", "fz", "mx", "my", "mz"} {
		out = append(out, Quantity{"zero", channel})
	}
	return append(out, Quantity{"weight", ""}, Quantity{"axes", ""}, Quantity{"angle-offset", ""})
}

// add takes one result.
func (h *History) add(file string, r *daemon.Result, seen map[string]bool) {
	first, last := r.Span()
	if first == 0 {
		h.Problems = append(h.Problems, Problem{file, "the result does not say when the test was"})
		return
	}
	name := fmt.Sprintf("%d %d %s", first, last, r.Setup.Vehicle)
	if seen[name] {
		h.Again++
		return
	}
	seen[name] = true
	h.Tests++
	count := map[uint64]int{}
	for i := range r.Transducers {
		if n := r.Transducers[i].Serial; n != nil {
			count[*n]++
		}
	}
	for i := range r.Transducers {
		t := &r.Transducers[i]
		if t.Serial == nil || count[*t.Serial] > 1 {
			h.Unnumbered++
			continue
		}
		p := Point{
			At: first, File: file, Vehicle: r.Setup.Vehicle, Corner: t.Corner, Side: t.Side, SerialFrom: t.SerialFrom, WheelMassKg: t.WheelMassKg, Values: []Value{},
		}
		if t.LowestTempC != nil && t.HighestTempC != nil && measured(*t.LowestTempC) && measured(*t.HighestTempC) {
			p.TemperatureC = new((*t.LowestTempC + *t.HighestTempC) / 2)
		}
		for _, q := range Quantities() {
			f := r.Finding(q.Check, t.Corner, q.Channel)
			switch {
			case f == nil || f.Value == nil || f.Uncertainty == nil || f.Verdict == checks.Absent:
			case !measured(*f.Value) || !measured(*f.Uncertainty):
				h.Problems = append(h.Problems, Problem{file, fmt.Sprintf("%s of %s is %g ± %g, which nobody has measured: it is left out",
					strings.TrimSpace(q.Check+" "+q.Channel), t.Corner, *f.Value, *f.Uncertainty)})
			default:
				p.Values = append(p.Values, Value{q.Check, q.Channel, *f.Value, *f.Uncertainty, f.Unit})
			}
		}
		h.of(*t.Serial).Points = append(h.of(*t.Serial).Points, p)
	}
}

// measured reports whether a number can be that of a wheel. Squares of what is much larger are no numbers any more.
func measured(v float64) bool { return math.Abs(v) < 1e12 }

// of returns the transducer of a number, a new one where it has not been met.
func (h *History) of(serial uint64) *Transducer {
	i := slices.IndexFunc(h.Transducers, func(t Transducer) bool { return t.Serial == serial })
	if i < 0 {
		i = len(h.Transducers)
		h.Transducers = append(h.Transducers, Transducer{Serial: serial})
	}
	return &h.Transducers[i]
}

// finish sorts all and works out what it shows. Where only is not nil, other transducers are left out.
func (h *History) finish(only *uint64) {
	if only != nil {
		h.Transducers = slices.DeleteFunc(h.Transducers, func(t Transducer) bool { return t.Serial != *only })
	}
	slices.SortFunc(h.Transducers, func(a, b Transducer) int { return cmp.Compare(a.Serial, b.Serial) })
	for i := range h.Transducers {
		t := &h.Transducers[i]
		slices.SortStableFunc(t.Points, func(a, b Point) int { return cmp.Compare(a.At, b.At) })
		t.remark()
	}
	h.trends()
}

// remark says what makes its tests differ beside time.
func (t *Transducer) remark() {
	t.Remarks = []string{}
	var places, sides []string
	var masses []string
	written := 0
	for i := range t.Points {
		p := &t.Points[i]
		places = appendNew(places, p.Vehicle+" "+p.Corner)
		if p.Side != "" {
			sides = appendNew(sides, p.Side)
		}
		if p.WheelMassKg > 0 {
			masses = appendNew(masses, strconv.FormatFloat(p.WheelMassKg, 'f', -1, 64))
		}
		if p.SerialFrom == daemon.SerialSetup {
			written++
		}
	}
	if len(places) > 1 {
		t.Remarks = append(t.Remarks, "It sat on "+strings.Join(places, ", ")+".")
	}
	if len(sides) > 1 {
		t.Remarks = append(t.Remarks, "It sat on both sides of the vehicle, mounted mirrored on the right: whether the signs of its zeros and of its angle turn with it is a setting of the amplifier.")
	}
	if len(places) > 1 || len(masses) > 1 {
		t.Remarks = append(t.Remarks, "It carried more than one wheel: its weight is measured ÷ expected, and as sure as the masses in the setups ("+strings.Join(masses, ", ")+" kg).")
	}
	if written > 0 {
		t.Remarks = append(t.Remarks, fmt.Sprintf("In %d of %d tests the serial number is the one written in the setup, not one that the electronics sent.", written, len(t.Points)))
	}
}

func appendNew(list []string, text string) []string {
	if slices.Contains(list, text) {
		return list
	}
	return append(list, text)
}

// ExitCode is 0 where something is shown and every file could be used, else 3.
func (h *History) ExitCode() int {
	if len(h.Transducers) == 0 || len(h.Problems) > 0 {
		return daemon.ExitInconclusive
	}
	return daemon.ExitPass
}

// Encode writes the history as JSON, with an indent of two blanks and a line feed at the end.
func (h *History) Encode(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(h); err != nil {
		return fmt.Errorf("history: writing it: %w", err)
	}
	return nil
}
