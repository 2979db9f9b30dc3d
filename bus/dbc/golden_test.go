package dbc

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the .want files of testdata/dbc")

const testdata = "../../testdata/dbc"

// TestGolden parses every file of testdata/dbc and compares what came out with
// the dump beside it. Each file is a trap met in files in the wild; its VERSION
// or first comment says which. The dumps were read and checked line by line.
func TestGolden(t *testing.T) {
	files, err := filepath.Glob(testdata + "/*.dbc")
	if err != nil || len(files) < 20 {
		t.Fatalf("found %d files: %v", len(files), err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			file, err := Parse(filepath.Base(path), text)
			got := dump(file, err)
			wantPath := strings.TrimSuffix(path, ".dbc") + ".want"
			if *update {
				if err := os.WriteFile(wantPath, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(wantPath)
			if err != nil {
				t.Fatalf("every .dbc has its .want beside it (write it with -update, then read it): %v", err)
			}
			if diff := cmp.Diff(got, string(want)); diff != "" {
				t.Errorf("got (-), want (+):\n%s", diff)
			}
		})
	}
}

// dump writes a file as text, one fact a line.
func dump(f *File, err error) string {
	var b strings.Builder
	if f != nil {
		for i := range f.Messages {
			m := &f.Messages[i]
			bits := 11
			if m.Extended {
				bits = 29
			}
			fmt.Fprintf(&b, "message %s line %d id %#x bits %d length %d cycle %v\n", m.Name, m.Line, m.ID, bits, m.Length, m.CycleTime)
			for j := range m.Signals {
				dumpSignal(&b, m, &m.Signals[j])
			}
		}
		for _, w := range f.Warnings {
			fmt.Fprintf(&b, "warning %s\n", w)
		}
	}
	if err != nil {
		for line := range strings.Lines(err.Error()) {
			fmt.Fprintf(&b, "error %s\n", strings.TrimSuffix(line, "\n"))
		}
	}
	return b.String()
}

func dumpSignal(b *strings.Builder, m *Message, s *Signal) {
	order, kind := "intel", "unsigned"
	if s.BigEndian {
		order = "motorola"
	}
	switch {
	case s.Float:
		kind = "float"
	case s.Signed:
		kind = "signed"
	}
	fmt.Fprintf(b, "  signal %s line %d start %d length %d %s %s scale %v offset %v range %v %v unit %q\n",
		s.Name, s.Line, s.Start, s.Length, order, kind, s.Scale, s.Offset, s.Min, s.Max, s.Unit)
	if s.Switch {
		b.WriteString("    switch\n")
	}
	for _, c := range s.Mux {
		fmt.Fprintf(b, "    when %s is", m.Signals[c.Switch].Name)
		for _, r := range c.Ranges {
			fmt.Fprintf(b, " %d-%d", r[0], r[1])
		}
		b.WriteString("\n")
	}
	for _, v := range s.Values {
		fmt.Fprintf(b, "    value %d %q\n", v.Raw, v.Text)
	}
}
