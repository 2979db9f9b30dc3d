package setup

import (
	"strings"
	"testing"

	"plumbline/bus/serialport"
)

// TestLayout: the fields of a serial packet are bound like the signals of a DBC file.
func TestLayout(t *testing.T) {
	s, err := Load("../../testdata/setup/layout/setup.yaml")
	if err != nil {
		t.Fatal(err)
	}
	o := &s.Sources[1]
	if o.Format.Framing != serialport.COBS || o.Format.ID == nil || o.Format.Checksum.CRC.Poly != 0x1021 {
		t.Errorf("format = %+v", o.Format)
	}
	bar := s.Checks.Messages[len(s.Checks.Messages)-1]
	if bar.Name != "Beam" || bar.Source != 1 || bar.Period != 0.001 {
		t.Errorf("message = %+v, want Beam of source 1 every 1 ms", bar)
	}
	for _, b := range s.Bindings {
		if b.Source == 1 && b.Message.Signals[b.Signal].Name == "Inner" && b.Scale != 0.001 {
			t.Errorf("Inner is scaled by %v, want millimetres to metres", b.Scale)
		}
	}
	if len(s.DBC) != 2 || s.DBC[1].Path != "optics.layout.yaml" || len(s.DBC[1].SHA256) != 64 {
		t.Errorf("files = %+v", s.DBC)
	}
}

func TestBrokenLayout(t *testing.T) {
	files := map[string]string{
		"l.yaml": "messages:\n  - {name: A, fields: [{name: X, type: u7}]}\n",
	}
	text := "vehicle: V\nsources:\n  - {name: s, serial: /dev/x, baud: 9600, framing: cobs, layout: l.yaml}\n"
	_, err := Parse("setup.yaml", []byte(text), func(name string) ([]byte, error) { return []byte(files[name]), nil })
	if err == nil || !strings.Contains(err.Error(), "setup.yaml:3:") || !strings.Contains(err.Error(), "l.yaml:2:") {
		t.Errorf("got %v, want the place in the setup and in the layout file", err)
	}
}
