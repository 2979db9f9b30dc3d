package setup

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// syntaxError is a file that is not what its name says.
type syntaxError struct {
	at   place
	text string
}

// Error returns the text without its place.
func (e *syntaxError) Error() string { return e.text }

// atLine finds the line in an error of the YAML library.
var atLine = regexp.MustCompile(`^yaml: (?:unmarshal errors:\s+)?(?:line (\d+): )?`)

// parseYAML reads a document of YAML 1.2 with places.
func parseYAML(text []byte) (*node, error) {
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var document yaml.Node
	switch err := decoder.Decode(&document); {
	case errors.Is(err, io.EOF):
		return &node{place: place{1, 1}, shape: mapping}, nil
	case err != nil:
		return nil, yamlFault(err)
	}
	var second yaml.Node
	switch err := decoder.Decode(&second); {
	case err == nil:
		return nil, &syntaxError{place{second.Line, second.Column}, "a second document begins: a setup file is one document, remove the line ---"}
	case !errors.Is(err, io.EOF):
		return nil, yamlFault(err)
	}
	b := yamlBuilder{left: maxNodes}
	return b.build(document.Content[0], place{}, 0)
}

// yamlFault takes the line out of the library's text; it knows no column.
func yamlFault(err error) error {
	text := err.Error()
	line := 1
	if m := atLine.FindStringSubmatch(text); m != nil {
		text = text[len(m[0]):]
		if n, err := strconv.Atoi(m[1]); err == nil {
			line = n
		}
	}
	return &syntaxError{place{line, 1}, "this is not YAML: " + text + "; look at indentation, colons and quotes here and on the line before"}
}

// yamlBuilder turns the library's nodes into ours. Aliases are expanded where
// they stand, so a few lines could become billions of nodes: left is what may
// still be made.
type yamlBuilder struct{ left int }

// build makes a node. Where the zero place is not given, an alias is expanded
// and all below it has the place of the alias.
func (b *yamlBuilder) build(y *yaml.Node, as place, depth int) (*node, error) {
	at := as
	if at == (place{}) {
		at = place{y.Line, y.Column}
	}
	b.left--
	switch {
	case b.left < 0:
		return nil, tooMany(at)
	case depth > maxDepth:
		return nil, tooDeep(at)
	}
	n := &node{place: at}
	switch y.Kind {
	case yaml.AliasNode:
		return b.build(y.Alias, at, depth+1)
	case yaml.MappingNode:
		n.shape = mapping
		for i := 0; i+1 < len(y.Content); i += 2 {
			key := y.Content[i]
			keyAt := as
			if keyAt == (place{}) {
				keyAt = place{key.Line, key.Column}
			}
			if key.Kind != yaml.ScalarNode {
				return nil, &syntaxError{keyAt, "a key must be a word; text with braces in it needs quotes, as in fx: \"{corner}_Forces.Fx\""}
			}
			value, err := b.build(y.Content[i+1], as, depth+1)
			if err != nil {
				return nil, err
			}
			n.entries = append(n.entries, entry{place: keyAt, key: key.Value, value: value})
		}
	case yaml.SequenceNode:
		n.shape = list
		for _, item := range y.Content {
			value, err := b.build(item, as, depth+1)
			if err != nil {
				return nil, err
			}
			n.items = append(n.items, value)
		}
	case yaml.ScalarNode:
		value, err := yamlScalar(y)
		if err != nil {
			return nil, &syntaxError{at, err.Error()}
		}
		n.value, n.written = value, y.Value
	case yaml.DocumentNode:
		return nil, &syntaxError{at, "a document inside a document"}
	}
	return n, nil
}

// yamlScalar resolves plain numbers, booleans and null as YAML 1.2 does. What
// only looks like a date is text.
func yamlScalar(y *yaml.Node) (any, error) {
	switch tag := y.ShortTag(); tag {
	case "!!str", "!!timestamp", "!!merge":
		return y.Value, nil
	case "!!null":
		return nil, nil
	case "!!int", "!!float", "!!bool":
		var v any
		if err := y.Decode(&v); err != nil {
			return nil, fmt.Errorf("%q is not a value of the type %s: write it without the tag", y.Value, tag)
		}
		if i, ok := v.(int); ok {
			return int64(i), nil
		}
		return v, nil
	default:
		return nil, fmt.Errorf("the tag %s is not known: write the value without it", tag)
	}
}

// parseJSON reads JSON. Its grammar is checked first: what follows takes it
// for YAML, of which it is a part, to have the places.
func parseJSON(text []byte) (*node, error) {
	var whole any
	if err := json.Unmarshal(text, &whole); err != nil {
		at := place{1, 1}
		if syntax, ok := errors.AsType[*json.SyntaxError](err); ok {
			at = placeOf(text, int(syntax.Offset)-1)
		}
		return nil, &syntaxError{at, "this is not JSON: " + strings.TrimPrefix(err.Error(), "json: ")}
	}
	return parseYAML(text)
}

// placeOf returns the place of a byte of the text.
func placeOf(text []byte, offset int) place {
	before := text[:max(0, min(offset, len(text)))]
	line := bytes.LastIndexByte(before, '\n')
	return place{1 + bytes.Count(before, []byte{'\n'}), 1 + utf8.RuneCount(before[line+1:])}
}
