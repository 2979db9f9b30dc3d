package setup

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"plumbline/checks"
)

// wordCheck holds a tree against the vocabulary. What is wrong is reported and
// marked, so that the rest of the file can still be looked at.
type wordCheck struct{ faults *notes }

// checkWords reports unknown and repeated keys and values of the wrong type,
// and brings the two short forms (a channel as text, a limit as one number)
// into their long form. It reports whether the root is usable at all.
func checkWords(n *node, faults *notes) bool {
	c := wordCheck{faults}
	return c.value(n, reflect.TypeFor[root](), "the file")
}

// value checks a node against a type. name is what a fault calls it. It
// returns false where the node must not be used.
func (c *wordCheck) value(n *node, t reflect.Type, name string) bool {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t {
	case reflect.TypeFor[channelWords]():
		return c.mapping(n, name, quantityWords(), func(string) reflect.Type { return reflect.TypeFor[channelWord]() })
	case reflect.TypeFor[limitWords]():
		return c.mapping(n, name, limitKeyWords(), func(string) reflect.Type { return reflect.TypeFor[[]float64]() })
	case reflect.TypeFor[channelWord]():
		if shortChannel(n); n.shape != mapping {
			c.faults.add(n.place, "%s is %s: write \"message.signal\", or {signal: \"message.signal\", unit: …}", name, describe(n))
			return false
		}
	}
	switch t.Kind() {
	case reflect.Struct:
		words, types := fields(t)
		return c.mapping(n, name, words, func(key string) reflect.Type { return types[key] })
	case reflect.Slice:
		return c.list(n, t.Elem(), name)
	default:
		return c.scalar(n, t, name)
	}
}

// mapping checks the keys of a mapping and then their values.
func (c *wordCheck) mapping(n *node, name string, words []string, typeOf func(string) reflect.Type) bool {
	if n.shape != mapping {
		c.faults.add(n.place, "%s is %s: write keys with values, those known here are %s", name, describe(n), strings.Join(words, ", "))
		return false
	}
	known := make(map[string]bool, len(words)) // value: already met
	for _, w := range words {
		known[w] = false
	}
	for i := range n.entries {
		e := &n.entries[i]
		met, ok := known[e.key]
		switch {
		case e.key == "<<" && !ok:
			c.faults.add(e.place, "merge keys are not read: write what corners have in common under defaults")
			e.bad = true
		case !ok:
			c.faults.add(e.place, "unknown key %s: %s", quote(e.key), advise(e.key, words))
			e.bad = true
			e.meant, _ = nearest(e.key, words)
		case met:
			c.faults.add(e.place, "%s stands twice here: remove one", e.key)
			e.bad = true
		default:
			known[e.key] = true
			e.bad = !c.entry(e, typeOf(e.key))
		}
	}
	return true
}

// entry checks the value of a known key.
func (c *wordCheck) entry(e *entry, t reflect.Type) bool {
	base := t
	if base.Kind() == reflect.Pointer {
		base = base.Elem()
	}
	if e.value.shape == scalar && e.value.value == nil && base != reflect.TypeFor[channelWord]() {
		switch base.Kind() {
		case reflect.Struct, reflect.Slice, reflect.Map: // "corners:" with nothing below it holds no corner
			e.value = &node{place: e.place, shape: list}
			if base.Kind() != reflect.Slice {
				e.value.shape = mapping
			}
			return true
		default:
			c.faults.add(e.place, "%s has no value: write %s, or remove the key", e.key, wanted(base))
			return false
		}
	}
	if key, ok := limitKey(e.key); ok && t == reflect.TypeFor[[]float64]() {
		return c.limit(e.value, key)
	}
	return c.value(e.value, t, e.key)
}

// list checks the items of a list and takes out what cannot be used.
func (c *wordCheck) list(n *node, t reflect.Type, name string) bool {
	if n.shape != list {
		c.faults.add(n.place, "%s is %s: write a list, as in [a, b] or with - before each item", name, describe(n))
		return false
	}
	kept := n.items[:0]
	for i := range n.items {
		if t.Kind() == reflect.Interface { // numbers or texts: looked at where their meaning is known
			if n.items[i].shape != scalar || n.items[i].value == nil || !finiteNode(n.items[i]) {
				c.faults.add(n.items[i].place, "item %d of %s is %s: write a number or a text", i+1, name, describe(n.items[i]))
				n.lost = true
				continue
			}
			kept = append(kept, n.items[i])
			continue
		}
		if !c.value(n.items[i], t, fmt.Sprintf("item %d of %s", i+1, name)) {
			n.lost = true
			continue
		}
		kept = append(kept, n.items[i])
	}
	n.items = kept
	return true
}

// limit checks a limit and brings a single bound into the form of a list.
func (c *wordCheck) limit(n *node, key checks.LimitKey) bool {
	unit := ""
	if key.Unit != "" {
		unit = " in " + key.Unit
	}
	if key.Range {
		if n.shape != list || len(n.items) != 2 {
			c.faults.add(n.place, "%s is %s: write its lower and upper bound%s as a list, as in [%g, %g]", key.Key, describe(n), unit, key.Default[0], key.Default[1])
			return false
		}
		ok := true
		for i, end := range []string{"lower", "upper"} {
			ok = c.scalar(n.items[i], reflect.TypeFor[float64](), "the "+end+" bound of "+key.Key) && ok
		}
		return ok
	}
	if n.shape != scalar {
		c.faults.add(n.place, "%s is %s: write one number%s, as in %g", key.Key, describe(n), unit, key.Default[0])
		return false
	}
	if !c.scalar(n, reflect.TypeFor[float64](), key.Key) {
		return false
	}
	n.items = []*node{{place: n.place, value: n.value}}
	n.shape, n.value = list, nil
	return true
}

// scalar checks a single value.
func (c *wordCheck) scalar(n *node, t reflect.Type, name string) bool {
	ok := n.shape == scalar
	if ok {
		switch t.Kind() {
		case reflect.String:
			_, ok = n.value.(string)
		case reflect.Bool:
			_, ok = n.value.(bool)
		case reflect.Float64:
			ok = finiteNode(n) && number(n.value)
		case reflect.Int:
			ok = number(n.value) && whole(n, math.MinInt32, math.MaxInt32)
		case reflect.Uint64:
			ok = number(n.value) && whole(n, 0, math.MaxUint64)
		default:
			ok = false
		}
	}
	if !ok {
		c.faults.add(n.place, "%s is %s: write %s", name, describe(n), instead(n, t))
	}
	return ok
}

// instead says what to write in place of a value of the wrong type: the value
// itself where only its quotes are wrong.
func instead(n *node, t reflect.Type) string {
	text, isText := n.value.(string)
	_, isTruth := n.value.(bool)
	_, notNumber := strconv.ParseFloat(text, 64)
	switch {
	case t.Kind() == reflect.String && (isTruth || number(n.value)):
		written := n.written // 0123 is a serial number to who writes it, and 83 to YAML
		if written == "" {
			written = fmt.Sprint(n.value)
		}
		return "it in quotes, as in \"" + written + "\""
	case t.Kind() == reflect.Bool && (text == "true" || text == "false"), t.Kind() != reflect.String && isText && notNumber == nil:
		return text + " without quotes"
	}
	return wanted(t)
}

// wanted says what a person has to write for a type.
func wanted(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "text"
	case reflect.Bool:
		return "true or false, without quotes"
	case reflect.Float64:
		return "a finite number, without unit and quotes"
	case reflect.Int:
		return "a whole number, without unit and quotes"
	case reflect.Uint64:
		return "a whole number from 0 upwards, without quotes"
	default:
		return "a value"
	}
}

// describe says what stands in the file instead.
func describe(n *node) string {
	switch n.shape {
	case mapping:
		return "a mapping"
	case list:
		return "a list of " + strconv.Itoa(len(n.items))
	case scalar:
	}
	switch v := n.value.(type) {
	case nil:
		return "empty"
	case string:
		return "the text " + quote(v)
	case bool:
		return fmt.Sprintf("the truth value %t", v)
	case tomlDate:
		return "a date"
	default:
		return fmt.Sprintf("the number %v", v)
	}
}

// quote returns a text in quotes, shortened and free of control characters.
func quote(text string) string {
	const longest = 60
	if r := []rune(text); len(r) > longest {
		text = string(r[:longest]) + "…"
	}
	return fmt.Sprintf("%q", text)
}

// number reports whether a value is one.
func number(v any) bool {
	switch v.(type) {
	case int64, uint64, float64:
		return true
	}
	return false
}

// finiteNode reports that a node is not infinite and not NaN.
func finiteNode(n *node) bool {
	f, ok := n.value.(float64)
	return !ok || !math.IsNaN(f) && !math.IsInf(f, 0)
}

// whole reports whether a number is whole and within bounds, and gives it an
// integer type: a decoder would cut 1.5 to 1.
func whole(n *node, low, high float64) bool {
	switch v := n.value.(type) {
	case int64:
		return float64(v) >= low && float64(v) <= high
	case uint64:
		return float64(v) <= high
	case float64:
		const exact = 1 << 53 // beyond it a float64 skips whole numbers
		if v != math.Trunc(v) || math.Abs(v) > exact || v < low || v > high {
			return false
		}
		n.value = int64(v)
		return true
	}
	return false
}

// shortChannel turns a channel that is only text, or empty, into a mapping.
func shortChannel(n *node) {
	if n.shape != scalar {
		return
	}
	text, ok := n.value.(string)
	if !ok && n.value != nil {
		return // the number or truth value is reported as it is
	}
	signal := &node{place: n.place, value: text}
	*n = node{place: n.place, shape: mapping, entries: []entry{{place: n.place, key: "signal", value: signal}}}
}

// quantityWords are the keys of channels, in the order of results.
func quantityWords() []string {
	words := make([]string, checks.Quantities)
	for q := range checks.Quantities {
		words[q] = q.String()
	}
	return words
}

// limitKeyWords are the keys of limits.
func limitKeyWords() []string {
	keys := checks.LimitKeys()
	words := make([]string, len(keys))
	for i := range keys {
		words[i] = keys[i].Key
	}
	return words
}

// limitKey finds a limit by its key.
func limitKey(key string) (checks.LimitKey, bool) {
	for _, k := range checks.LimitKeys() {
		if k.Key == key {
			return k, true
		}
	}
	return checks.LimitKey{}, false
}
