package simulated

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Fault is one thing that is wrong.
type Fault struct {
	Kind   string
	Corner string  // what it befalls: a corner, two as "FL,RR", an optic or an interface; see Kind.Subject
	Value  float64 // in Kind.Unit; 0: Kind.Default
}

// ParseFault reads KIND[:SUBJECT][=VALUE], for example "zero:FL=115",
// "harness:FL,RR" or "bus-errors". Where no value is given, the kind's default
// is set. Whether the vehicle has that subject is for New to say.
func ParseFault(text string) (Fault, error) {
	f := Fault{}
	rest, value, hasValue := strings.Cut(text, "=")
	f.Kind, f.Corner, _ = strings.Cut(rest, ":")
	f.Kind, f.Corner = strings.TrimSpace(f.Kind), strings.TrimSpace(f.Corner)
	kind, err := f.kind()
	if err != nil {
		return Fault{}, err
	}
	f.Kind, f.Value = kind.Name, kind.Default
	if hasValue {
		if kind.NoValue {
			return Fault{}, fmt.Errorf("simulated: fault %q: %s takes no value", text, kind.Name)
		}
		f.Value, err = strconv.ParseFloat(strings.TrimSpace(value), 64)
		if err != nil {
			return Fault{}, fmt.Errorf("simulated: fault %q: value %q: want a number%s", text, value, inUnit(kind.Unit))
		}
	}
	if err := kind.holds(f.Value); err != nil {
		return Fault{}, fmt.Errorf("simulated: fault %q: %w", text, err)
	}
	return f, nil
}

// String returns the text that ParseFault reads.
func (f Fault) String() string {
	text := f.Kind
	if f.Corner != "" {
		text += ":" + f.Corner
	}
	if k, err := f.kind(); err == nil && !k.NoValue {
		text += "=" + strconv.FormatFloat(f.Value, 'g', -1, 64)
	}
	return text
}

func inUnit(unit string) string {
	if unit == "" {
		return ""
	}
	return " in " + unit
}

func (k *Kind) holds(value float64) error {
	if k.NoValue {
		return nil
	}
	if math.IsNaN(value) || math.IsInf(value, 0) || value < k.Min || value > k.Max {
		return fmt.Errorf("value %v: want %v to %v%s", value, k.Min, k.Max, inUnit(k.Unit))
	}
	return nil
}

// kind returns the kind of that name. The name of a check stands for the first of the kinds that fail it.
func (f Fault) kind() (Kind, error) {
	kinds := Kinds()
	for _, k := range kinds {
		if k.Name == f.Kind {
			return k, nil
		}
	}
	for _, k := range kinds {
		if k.Check == f.Kind {
			return k, nil
		}
	}
	nearest := slices.MinFunc(kinds, func(a, b Kind) int { return distance(f.Kind, a.Name) - distance(f.Kind, b.Name) })
	return Kind{}, fmt.Errorf("simulated: fault %q: no such kind, the nearest is %q", f.Kind, nearest.Name)
}

// distance counts the letters to insert, remove or change between two words.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// subjects returns what a fault befalls: indexes of corners or optics, the
// latter behind the corners. For a bus it is the index of the interface.
func (c *Config) subjects(k Kind, named string) ([]int, error) {
	names := strings.Split(named, ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
	}
	want := func(what string) error {
		return fmt.Errorf("subject %q: want %s", named, what)
	}
	switch k.Subject {
	case OneBus:
		if named == "" {
			return []int{0}, nil
		}
		if i := slices.Index(c.buses(), named); i >= 0 {
			return []int{i}, nil
		}
		return nil, want("one of " + strings.Join(c.buses(), ", "))
	case OneCamber, OneRoad, OneOptic:
		for i, o := range c.Optics {
			fits := k.Subject == OneOptic || (o.Kind == CamberBar) == (k.Subject == OneCamber)
			byName := o.Name == named || o.Corner == named && named != ""
			if fits && (byName || named == "" && k.Subject == OneRoad) {
				return []int{len(c.Corners) + i}, nil
			}
		}
		return nil, want("the name of an optical sensor, or its corner (" + string(k.Subject) + ")")
	case AnyCorners:
		if named == "" {
			all := make([]int, len(c.Corners))
			for i := range all {
				all[i] = i
			}
			return all, nil
		}
	case OneCorner, TwoCorners, CornerOrOptic:
	}
	var found []int
	for _, name := range names {
		i := c.corner(name)
		if o := c.optic(named); i < 0 && o >= 0 && k.Subject == CornerOrOptic {
			return []int{len(c.Corners) + o}, nil
		}
		if i < 0 || slices.Contains(found, i) {
			return nil, want("corners out of " + strings.Join(c.cornerNames(), ", "))
		}
		found = append(found, i)
	}
	switch {
	case k.Subject == TwoCorners && len(found) != 2:
		return nil, want("two corners, like FL,RR")
	case k.Subject != TwoCorners && k.Subject != AnyCorners && len(found) != 1:
		return nil, want("one corner")
	}
	return found, nil
}

func (c *Config) cornerNames() []string {
	names := make([]string, len(c.Corners))
	for i, k := range c.Corners {
		names[i] = k.Name
	}
	return names
}
