package setup

import (
	"os"
	"reflect"
	"strings"
	"testing"

	"plumbline/checks"
)

// TestDocumentNamesEveryWord: SETUP.md explains all words that a setup may hold, and no quantity is missing.
func TestDocumentNamesEveryWord(t *testing.T) {
	text, err := os.ReadFile("SETUP.md")
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	var walk func(reflect.Type)
	walk = func(of reflect.Type) {
		switch of.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Map:
			walk(of.Elem())
		case reflect.Struct:
			for field := range of.Fields() {
				if word, _, _ := strings.Cut(field.Tag.Get("mapstructure"), ","); word != "" {
					words = append(words, word)
				}
				walk(field.Type)
			}
		default:
		}
	}
	walk(reflect.TypeFor[root]())
	for q := range checks.Quantities {
		words = append(words, q.String())
	}
	words = append(words, framings()...)
	if len(words) < 50 {
		t.Fatalf("only %d words found: %q", len(words), words)
	}
	for _, word := range words {
		if !strings.Contains(string(text), "`"+word+"`") && !strings.Contains(string(text), word+": ") {
			t.Errorf("SETUP.md does not name %s", word)
		}
	}
}
