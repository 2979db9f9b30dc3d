package serialport

import (
	"bytes"
	"errors"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// maxLayout is the size of a layout file in bytes.
const maxLayout = 1 << 20

// layoutNode is a value of a layout file with its place. A nil node has no value, no
// keys and no items, so that what is missing need not be asked for at each step.
type layoutNode struct {
	*yaml.Node
	line, column int
	faults       *layoutFaults
}

// layoutPair is a key with its value.
type layoutPair struct {
	key   string
	value *layoutNode
}

// yamlLine finds the line in an error of the YAML library.
var yamlLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?`)

// readLayout reads the file as one mapping; root is nil where it is none.
func readLayout(name string, text []byte) (root *layoutNode, faults *layoutFaults) {
	faults = &layoutFaults{file: name}
	if len(text) > maxLayout {
		faults.add(nil, "%d bytes: a layout file has at most %d", len(text), maxLayout)
		return nil, faults
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var document, second yaml.Node
	if err := decoder.Decode(&document); err != nil {
		if errors.Is(err, io.EOF) {
			faults.add(nil, "the file is empty: write packet, and messages with their fields")
			return nil, faults
		}
		faults.syntax(err)
		return nil, faults
	}
	switch err := decoder.Decode(&second); {
	case err == nil:
		faults.add(&layoutNode{line: second.Line, column: second.Column}, "a second document begins: a layout file is one document, remove the line ---")
		return nil, faults
	case !errors.Is(err, io.EOF):
		faults.syntax(err)
		return nil, faults
	}
	root = faults.node(document.Content[0])
	if root == nil {
		return nil, faults
	}
	if root.Kind != yaml.MappingNode {
		faults.add(root, "expected keys with values: packet, line, messages")
		return nil, faults
	}
	return root, faults
}

// syntax adds what the library says; it knows no column.
func (f *layoutFaults) syntax(err error) {
	text, line := err.Error(), 1
	if m := yamlLine.FindStringSubmatch(text); m != nil {
		text = text[len(m[0]):]
		if n, err := strconv.Atoi(m[1]); err == nil {
			line = n
		}
	}
	f.add(&layoutNode{line: line, column: 1}, "this is not YAML: %s; look at indentation, colons and quotes here and on the line before", text)
}

// node wraps a value. Aliases are not followed: a few lines could become billions of values.
func (f *layoutFaults) node(n *yaml.Node) *layoutNode {
	wrapped := &layoutNode{Node: n, line: n.Line, column: n.Column, faults: f}
	if n.Kind == yaml.AliasNode {
		f.add(wrapped, "aliases are not read in a layout: write the value here again")
		return nil
	}
	return wrapped
}

// pairs returns the entries of a mapping.
func (n *layoutNode) pairs() []layoutPair {
	if n == nil {
		return nil
	}
	if n.Kind != yaml.MappingNode {
		n.faults.add(n, "expected keys with values")
		return nil
	}
	var pairs []layoutPair
	for i := 0; i+1 < len(n.Content); i += 2 {
		if v := n.faults.node(n.Content[i+1]); v != nil {
			pairs = append(pairs, layoutPair{n.Content[i].Value, v})
		}
	}
	return pairs
}

// only reports keys that are not known here, and keys that stand twice. It
// returns false where there are no keys at all.
func (n *layoutNode) only(known ...string) bool {
	if n == nil {
		return false
	}
	if n.Kind != yaml.MappingNode {
		n.faults.add(n, "expected keys with values: %s", strings.Join(known, ", "))
		return false
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		at := &layoutNode{line: key.Line, column: key.Column}
		switch {
		case key.Kind != yaml.ScalarNode || !slices.Contains(known, key.Value):
			n.faults.add(at, "unknown key %q: expected one of %s", key.Value, strings.Join(known, ", "))
		case seen[key.Value]:
			n.faults.add(at, "%s stands twice here: remove one", key.Value)
		}
		seen[key.Value] = true
	}
	return true
}

// get returns the value of a key, nil where it is not given.
func (n *layoutNode) get(key string) *layoutNode {
	if n == nil || n.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.faults.node(n.Content[i+1])
		}
	}
	return nil
}

// items returns the items of a list.
func (n *layoutNode) items() []*layoutNode {
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		n.faults.add(n, "expected a list")
		return nil
	}
	var items []*layoutNode
	for _, i := range n.Content {
		if item := n.faults.node(i); item != nil {
			items = append(items, item)
		}
	}
	return items
}

// value returns what stands there as text.
func (n *layoutNode) value() string {
	if n.Kind != yaml.ScalarNode {
		n.faults.add(n, "expected one value")
		return ""
	}
	return n.Value
}

// text returns the value of a key as text, "" where it is not given.
func (n *layoutNode) text(key string) string {
	v := n.get(key)
	if v == nil {
		return ""
	}
	return v.value()
}

// yes returns the value of a key as true or false.
func (n *layoutNode) yes(key string) bool {
	v := n.get(key)
	if v == nil {
		return false
	}
	switch v.value() {
	case "true":
		return true
	case "false":
		return false
	}
	v.faults.add(v, "%s is %q: expected true or false", key, v.Value)
	return false
}

// number returns a whole number within bounds.
func (n *layoutNode) number(low, high int64) int64 {
	v, err := strconv.ParseInt(n.value(), 0, 64)
	if err != nil || v < low || v > high {
		n.faults.add(n, "%q: expected a whole number from %d to %d", n.Value, low, high)
		return low
	}
	return v
}

// unsigned returns the value of a key as a whole number from 0, 0 where it is not given.
func (n *layoutNode) unsigned(key string, high uint64) uint64 {
	given := n.get(key)
	if given == nil {
		return 0
	}
	v, err := strconv.ParseUint(given.value(), 0, 64)
	if err != nil || v > high {
		given.faults.add(given, "%s is %q: expected a whole number from 0 to %d", key, given.Value, high)
		return 0
	}
	return v
}

// float returns a finite number within bounds, which can be infinite.
func (n *layoutNode) float(low, high float64) float64 {
	v, err := strconv.ParseFloat(n.value(), 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		n.faults.add(n, "%q: expected a finite number", n.Value)
	case v < low || v > high:
		n.faults.add(n, "%q: expected a number from %g to %g", n.Value, low, high)
	default:
		return v
	}
	return max(low, min(1, high))
}

// field reads where a number lies in a payload.
func (n *layoutNode) field() Field {
	f := Field{Size: 1, BigEndian: n.yes("big_endian")}
	at := n.get("at")
	if at == nil {
		n.faults.add(n, "no at: write the byte, counted from the first after the sync bytes, as in at: 0")
		return f
	}
	f.Offset = int(at.number(0, 63))
	if s := n.get("size"); s != nil {
		f.Size = int(s.number(1, 4))
	}
	return f
}
