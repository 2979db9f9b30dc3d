package dbc

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"plumbline/bus"
)

// FuzzParse: whatever the text is, Parse returns, and every signal of what it
// returned either compiles or is refused by Compile, and decodes without panic.
func FuzzParse(f *testing.F) {
	files, err := filepath.Glob(testdata + "/*.dbc")
	if err != nil || len(files) == 0 {
		f.Fatal(files, err)
	}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	full := bus.Frame{Len: bus.MaxData}
	for i := range full.Data {
		full.Data[i] = byte(i * 37)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		file, err := Parse("fuzz.dbc", text)
		if file == nil {
			if err == nil {
				t.Fatal("neither file nor error")
			}
			return
		}
		for i := range file.Messages {
			m := &file.Messages[i]
			if m.Extended && m.ID > 0x1FFFFFFF || !m.Extended && m.ID > 0x7FF || m.Length < 0 || m.Line < 1 || m.CycleTime < 0 {
				t.Fatalf("message %+v", m)
			}
			for j := range m.Signals {
				s := &m.Signals[j]
				for _, c := range s.Mux {
					if !m.Signals[c.Switch].Switch || len(c.Ranges) == 0 {
						t.Fatalf("signal %+v of %+v", s, m)
					}
				}
				p, err := Compile([]Binding{{Message: m, Signal: j, Scale: 1}})
				if (err == nil) != (s.bytes() <= bus.MaxData && switchesFit(m, s)) {
					t.Fatalf("signal %+v: %v", s, err)
				}
				if err != nil {
					continue
				}
				for _, n := range []uint8{64, 8, 0} {
					full.Len = n
					if values, short := p.Decode(0, &full, nil); len(values) > 1 || len(values) == 1 && short {
						t.Fatalf("signal %+v: %v, %v", s, values, short)
					}
				}
			}
		}
	})
}

func switchesFit(m *Message, s *Signal) bool {
	for _, c := range s.Mux {
		if m.Signals[c.Switch].bytes() > bus.MaxData {
			return false
		}
	}
	return true
}

// TestParsePieces cuts every file at every byte, as a download that broke off,
// and joins the pieces the wrong way round: no panic.
func TestParsePieces(t *testing.T) {
	files, err := filepath.Glob(testdata + "/*.dbc")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		step := 1 + len(text)/100
		for i := 0; i < len(text); i += step {
			_, _ = Parse("cut.dbc", text[:i])
			_, _ = Parse("cut.dbc", append(text[i:len(text):len(text)], text[:i]...))
		}
	}
}

// TestParseLong: the time grows with the length of the text, not with its square.
func TestParseLong(t *testing.T) {
	const lines = 50000
	repeat := func(format string) string {
		var b strings.Builder
		for i := range lines {
			b.WriteString(strings.ReplaceAll(strings.ReplaceAll(format, "#", strconv.Itoa(i+1)), "~", strconv.Itoa(i)))
		}
		return b.String()
	}
	tests := []struct{ name, text string }{
		{"quotes", strings.Repeat("\"", lines)},
		{"escapes", "CM_ \"" + strings.Repeat("\\\"", lines)},
		{"open texts", repeat("VAL_ 1 S# \"\n")},
		{"open signals", "BO_ 1 M: 8 A\n" + repeat("SG_ S# : 0|8@1+ (1,0) [0|0] \"\n")},
		{"one signal over all lines", "BO_ 1 M: 8 A\nSG_ S\n" + repeat("#\n")},
		{"unknown", repeat("FOO_ # \"\n")},
		{"comments", repeat("/* \n")},
		{"symbols", "NS_ :\n" + repeat("A#\n") + "\"\n"},
		{"one message, many signals", "BO_ 1 M: 8 A\n" + repeat("SG_ S# : 0|8@1+ (1,0) [0|0] \"\" A\n") + repeat("VAL_ 1 S# 0 \"a\" ;\n")},
		{"a chain of switches", "BO_ 1 M: 8 A\n" + repeat("SG_ S# m1M : 0|8@1+ (1,0) [0|0] \"\" A\n") + repeat("SG_MUL_VAL_ 1 S# S~ 1-1;\n")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			start := time.Now()
			file, _ := Parse("long.dbc", []byte(tt.text))
			// Some 0.5 s are normal; squared it would be minutes.
			if took := time.Since(start); file == nil || took > 20*time.Second {
				t.Errorf("%d bytes took %v", len(tt.text), took)
			}
		})
	}
}
