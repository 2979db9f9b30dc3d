package setup

import (
	"bytes"
	"cmp"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// parseTOML reads TOML 1.0 with places. Values come from the decoder, which
// knows all rules of tables; places come from a first walk over the grammar,
// which also keeps from the decoder what is nested beyond reason.
func parseTOML(text []byte) (*node, error) {
	if at, ok := shallow(text); !ok {
		return nil, tooDeep(at)
	}
	p := tomlPlaces{cursor: cursor{text: text, at: place{1, 1}}, at: map[string]place{}, values: map[string]place{}, length: map[string]int{}}
	p.walk()
	if p.err != nil {
		return nil, p.err
	}
	var whole map[string]any
	if err := toml.Unmarshal(text, &whole); err != nil {
		at := place{1, 1}
		if decode, ok := errors.AsType[*toml.DecodeError](err); ok {
			line, column := decode.Position()
			at = place{line, column}
		}
		return nil, &syntaxError{at, "this is not TOML: " + strings.TrimPrefix(err.Error(), "toml: ")}
	}
	b := tomlBuilder{keys: p.at, values: p.values, left: maxNodes}
	return b.build("", whole, place{1, 1}, 0)
}

// tooDeep is what a file is told that no person wrote.
func tooDeep(at place) error {
	return &syntaxError{at, "nested deeper than " + strconv.Itoa(maxDepth) + ": a setup is far flatter; look for a bracket that is not closed or an alias inside what it repeats"}
}

// tooMany is what a file is told that is no setup.
func tooMany(at place) error {
	return &syntaxError{at, "the file holds more than " + strconv.Itoa(maxNodes) + " values: a setup is far smaller; aliases count each time they are used"}
}

// shallow guards the parser, which calls itself at each bracket. Brackets in
// strings and comments count as well, so the bound is a wide one.
func shallow(text []byte) (place, bool) {
	const brackets = 1000
	depth := 0
	for i, c := range text {
		switch c {
		case '[', '{':
			if depth++; depth > brackets {
				return placeOf(text, i), false
			}
		case ']', '}':
			depth = max(0, depth-1)
		}
	}
	return place{}, true
}

// cursor finds places in a text from front to back.
type cursor struct {
	text   []byte
	offset int
	at     place
}

// to returns the place of a byte. It is quick as long as offsets rise.
func (c *cursor) to(offset int) place {
	if offset < c.offset {
		c.offset, c.at = 0, place{1, 1}
	}
	part := c.text[c.offset:offset]
	if line := bytes.LastIndexByte(part, '\n'); line >= 0 {
		c.at = place{c.at.line + bytes.Count(part, []byte{'\n'}), 1}
		part = part[line+1:]
	}
	c.at.column += utf8.RuneCount(part)
	c.offset = offset
	return c.at
}

// tomlPlaces finds the place of each key and each item. A path is the keys and
// indexes that lead to a value, each after a NUL, which no key of a setup holds.
type tomlPlaces struct {
	cursor cursor
	parser unstable.Parser
	err    error
	at     map[string]place // of keys and items
	values map[string]place // of values that are not where their key is
	length map[string]int   // of arrays of tables
}

func (p *tomlPlaces) walk() {
	p.parser.Reset(p.cursor.text)
	table := ""
	for p.err == nil && p.parser.NextExpression() {
		switch e := p.parser.Expression(); e.Kind {
		case unstable.Table:
			table = p.key("", e.Key(), false)
		case unstable.ArrayTable:
			table = p.key("", e.Key(), true)
		case unstable.KeyValue:
			p.value(p.key(table, e.Key(), false), e.Value())
		default: // comments; a key or value never stands alone
		}
	}
}

// key follows a dotted key from a path. A part that is an array of tables
// leads to its newest table; the last part of an array header begins a new one.
func (p *tomlPlaces) key(path string, parts unstable.Iterator, grow bool) string {
	for depth := 0; parts.Next() && p.err == nil; depth++ {
		part := parts.Node()
		const letters = 64 // twice the longest key there is
		switch {
		case depth > maxDepth:
			p.err = tooDeep(p.place(part))
		case len(part.Data) > letters:
			p.err = &syntaxError{p.place(part), "a key of more than " + strconv.Itoa(letters) + " letters: no key is so long, look for a quote that is not closed"}
		}
		path += "\x00" + string(part.Data)
		at := p.place(part)
		if _, ok := p.at[path]; !ok {
			p.at[path] = at
		}
		if grow && parts.IsLast() {
			p.length[path]++
		}
		if n := p.length[path]; n > 0 {
			path += "\x00" + strconv.Itoa(n-1)
			if _, ok := p.at[path]; !ok {
				p.at[path] = at
			}
		}
	}
	return path
}

// value notes the places of a value and of all inside it.
func (p *tomlPlaces) value(path string, v *unstable.Node) {
	if at := p.place(v); at != (place{}) {
		p.values[path] = at
	}
	children := v.Children()
	switch v.Kind {
	case unstable.Array:
		for i := 0; children.Next(); {
			if children.Node().Kind == unstable.Comment {
				continue
			}
			if len(p.at) > maxNodes {
				p.err = tooMany(p.cursor.at)
				return
			}
			item := path + "\x00" + strconv.Itoa(i)
			p.at[item] = p.place(children.Node())
			p.value(item, children.Node())
			i++
		}
	case unstable.InlineTable:
		for children.Next() {
			p.value(p.key(path, children.Node().Key(), false), children.Node().Value())
		}
	default:
	}
}

// place returns where a node begins. An array has no place of its own in the
// parser: it takes that of its first part, or none.
func (p *tomlPlaces) place(n *unstable.Node) place {
	if n.Kind == unstable.Bool {
		return p.cursor.to(int(p.parser.Range(n.Data).Offset))
	}
	if n.Raw.Length > 0 {
		return p.cursor.to(int(n.Raw.Offset))
	}
	if n.Kind == unstable.Array {
		if c := n.Child(); c != nil && c.Kind != unstable.Array {
			return p.place(c)
		}
	}
	return place{}
}

// tomlBuilder joins values and places.
type tomlBuilder struct {
	keys, values map[string]place
	left         int
}

// build makes the node of a value; where its place is not known it has that
// of what it stands in.
func (b *tomlBuilder) build(path string, v any, outer place, depth int) (*node, error) {
	at := cmp.Or(b.values[path], b.keys[path], outer)
	n := &node{place: at}
	if depth > maxDepth {
		return nil, tooDeep(at)
	}
	if b.left--; b.left < 0 {
		return nil, tooMany(at)
	}
	switch v := v.(type) {
	case map[string]any:
		n.shape = mapping
		for _, key := range slices.Sorted(maps.Keys(v)) {
			inner := path + "\x00" + key
			value, err := b.build(inner, v[key], at, depth+1)
			if err != nil {
				return nil, err
			}
			n.entries = append(n.entries, entry{place: cmp.Or(b.keys[inner], value.place), key: key, value: value})
		}
		slices.SortStableFunc(n.entries, func(a, c entry) int {
			return cmp.Or(cmp.Compare(a.line, c.line), cmp.Compare(a.column, c.column))
		})
	case []any:
		n.shape = list
		for i := range v {
			value, err := b.build(path+"\x00"+strconv.Itoa(i), v[i], at, depth+1)
			if err != nil {
				return nil, err
			}
			n.items = append(n.items, value)
		}
	case string, bool, int64, float64:
		n.value = v
	default: // dates and times: nothing in a setup is one
		n.value = tomlDate{}
	}
	return n, nil
}

// tomlDate stands for a date or a time, which no key takes.
type tomlDate struct{}
