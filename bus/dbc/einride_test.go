package dbc

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.einride.tech/can/pkg/dbc"
)

// einrideFiles returns the DBC files that come with the module go.einride.tech/can.
func einrideFiles(t *testing.T) []string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "go", "list", "-m", "-f", "{{.Dir}}", "go.einride.tech/can").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var files []string
	err = filepath.WalkDir(filepath.Join(strings.TrimSpace(string(out)), "testdata"), func(path string, _ fs.DirEntry, err error) error {
		if filepath.Ext(path) == ".dbc" {
			files = append(files, path)
		}
		return err
	})
	if err != nil || len(files) < 5 {
		t.Fatalf("found %v: %v", files, err)
	}
	return files
}

// TestEinrideFiles reads the files of the einride module whole with its own
// parser, and statement by statement with ours, and compares what both say.
func TestEinrideFiles(t *testing.T) {
	// Files that are meant to be wrong, and what is wrong with them.
	faults := map[string]string{
		"example_float32_invalid_signal_length.dbc": "makes it a float of 32 bits, it has 16",
	}
	for _, path := range einrideFiles(t) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			got, err := Parse(path, text)
			if fault := faults[filepath.Base(path)]; fault != "" {
				if err == nil || !strings.Contains(err.Error(), fault) {
					t.Errorf("got %v, want %q", err, fault)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			parser := dbc.NewParser(path, text)
			if err := parser.Parse(); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(dump(&File{Messages: got.Messages}, nil), dump(einrideFile(parser.Defs()), nil)); diff != "" {
				t.Errorf("got (-), einride has (+):\n%s", diff)
			}
		})
	}
}

// einrideFile turns the definitions of the einride parser into our form.
func einrideFile(defs []dbc.Def) *File {
	f := &File{}
	message := func(id dbc.MessageID) *Message {
		for i := range f.Messages {
			if m := &f.Messages[i]; m.ID == id.ToCAN() && m.Extended == id.IsExtended() {
				return m
			}
		}
		return &Message{}
	}
	signal := func(id dbc.MessageID, name dbc.Identifier) *Signal {
		m := message(id)
		if i := m.Find(string(name)); i >= 0 {
			return &m.Signals[i]
		}
		return &Signal{}
	}
	for _, def := range defs {
		switch def := def.(type) {
		case *dbc.MessageDef:
			f.Messages = append(f.Messages, einrideMessage(def))
		case *dbc.SignalValueTypeDef:
			signal(def.MessageID, def.SignalName).Float = def.SignalValueType != dbc.SignalValueTypeInt
		case *dbc.ValueDescriptionsDef:
			s := signal(def.MessageID, def.SignalName)
			for _, d := range def.ValueDescriptions {
				s.Values = append(s.Values, ValueText{int64(d.Value), d.Description})
			}
		case *dbc.AttributeValueForObjectDef:
			if def.AttributeName == cycleAttribute {
				message(def.MessageID).CycleTime = time.Duration(def.IntValue) * time.Millisecond
			}
		}
	}
	return f
}

func einrideMessage(def *dbc.MessageDef) Message {
	m := Message{
		Name: string(def.Name), ID: def.MessageID.ToCAN(), Extended: def.MessageID.IsExtended(),
		Length: int(def.Size), Line: def.Pos.Line,
	}
	sw := -1
	for i := range def.Signals {
		if def.Signals[i].IsMultiplexerSwitch {
			sw = i
		}
	}
	for i := range def.Signals {
		d := &def.Signals[i]
		s := Signal{
			Name: string(d.Name), Line: d.Pos.Line, Start: int(d.StartBit), Length: int(d.Size), BigEndian: d.IsBigEndian, Signed: d.IsSigned,
			Scale: d.Factor, Offset: d.Offset, Min: d.Minimum, Max: d.Maximum, Unit: d.Unit, Switch: d.IsMultiplexerSwitch,
		}
		if d.IsMultiplexed {
			s.Mux = []MuxChoice{{Switch: sw, Ranges: [][2]uint64{{d.MultiplexerSwitch, d.MultiplexerSwitch}}}}
		}
		m.Signals = append(m.Signals, s)
	}
	return m
}
