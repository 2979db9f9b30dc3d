package compare

import (
	"os"
	"reflect"
	"strings"
	"testing"

	"plumbline/daemon"
	"plumbline/daemon/history"
)

// TestDocument: COMPARE.md names every key of what compare and history write, and of what a result has for them.
func TestDocument(t *testing.T) {
	text, err := os.ReadFile("COMPARE.md")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[reflect.Type]bool{}
	var keys func(of reflect.Type)
	keys = func(of reflect.Type) {
		for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice {
			of = of.Elem()
		}
		if of.Kind() != reflect.Struct || seen[of] {
			return
		}
		seen[of] = true
		for field := range of.Fields() {
			key, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			if !strings.Contains(string(text), "`"+key+"`") {
				t.Errorf("COMPARE.md does not name %s of %s", key, of)
			}
			if of != reflect.TypeFor[Test]() { // its setup and transducers are those of a result
				keys(field.Type)
			}
		}
	}
	for _, of := range []reflect.Type{reflect.TypeFor[Comparison](), reflect.TypeFor[history.History](), reflect.TypeFor[daemon.Transducer](), reflect.TypeFor[daemon.Parts]()} {
		keys(of)
	}
	for _, name := range []string{partScatter, partResolution, partRounding, partIndex, partMass, partCalibration} {
		if !strings.Contains(string(text), "`"+name+"`") {
			t.Errorf("COMPARE.md does not name the part %q", name)
		}
	}
}
