package pcapng_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// TestEventForeignKeys: what stands in an event and does not belong to its kind is passed over.
func TestEventForeignKeys(t *testing.T) {
	for data, want := range map[string]bus.Note{
		"plumbline clock\nmonotonic 1\nstep -2\nbitrate x\ntext t": {Kind: bus.Clock, Step: -2, Text: "t"},
		"plumbline mark\ncount 3\nplace ring\ntext turn FL":        {Kind: bus.Mark, Text: "turn FL"},
		"plumbline tick\nlink down\ntext t":                        {Kind: bus.Tick},
		"plumbline clocks\nmonotonic 7\nstep 1\ntext t":            {Kind: bus.BothClocks, Monotonic: 7},
	} {
		b := little().section()
		b.iface(148, b.opt(3, []byte("plumbline events")), b.opt(9, []byte{9})).packet(0, epoch, []byte(data))
		want.At = epoch
		_, got, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 1)
		if diff := cmp.Diff(got, []bus.Note{want}); diff != "" || err != nil {
			t.Errorf("%q: error %v (-got +want):\n%s", data, err, diff)
		}
	}
}

// FuzzEvent: whatever stands in an event, nothing panics, and what is read
// comes back the same when it is appended anew.
func FuzzEvent(f *testing.F) {
	for _, n := range allNotes() {
		p := pcapng.AppendNote(nil, 0, &n, "wheels")
		f.Add(p[28 : len(p)-4])
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > pcapng.MaxText {
			return
		}
		b := little().section()
		b.iface(148, b.opt(3, []byte("plumbline events")), b.opt(9, []byte{9})).packet(0, epoch, data)
		r := pcapng.NewReader("x", bytes.NewReader(b.out))
		_, first, err := everything(t, r, 1)
		if err != nil || len(first) != 1 {
			t.Fatalf("notes %v, error %v", first, err)
		}
		name := ""
		if len(r.Names()) > 0 {
			name = r.Names()[first[0].Source]
		}
		again := pcapng.AppendInterface(pcapng.AppendSection(nil, &pcapng.Section{}), pcapng.Events, "")
		_, second, err := everything(t, pcapng.NewReader("x", bytes.NewReader(pcapng.AppendNote(again, 0, &first[0], name))), 1)
		if len(name) == len(strings.Join(strings.Fields(name), " ")) && len(name) <= 100 { // as it stands in a description
			if diff := cmp.Diff(second, first); diff != "" || err != nil {
				t.Errorf("error %v, appended anew (-got +want):\n%s", err, diff)
			}
		}
	})
}
