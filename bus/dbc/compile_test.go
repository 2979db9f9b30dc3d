package dbc

import (
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// goldenMessage returns a message of a file of testdata/dbc.
func goldenMessage(tb testing.TB, file, message string) *Message {
	tb.Helper()
	text, err := os.ReadFile(testdata + "/" + file)
	if err != nil {
		tb.Fatal(err)
	}
	f, err := Parse(file, text)
	if err != nil {
		tb.Fatal(err)
	}
	m := f.Find(message)
	if m == nil {
		tb.Fatalf("no message %s in %s", message, file)
	}
	return m
}

func TestCompileOrder(t *testing.T) {
	a := &Message{Name: "A", ID: 1, Signals: []Signal{{Length: 8, Scale: 1}, {Start: 8, Length: 8, Scale: 1}}}
	b := &Message{Name: "B", ID: 2, Signals: a.Signals}
	p, err := Compile([]Binding{
		{Source: 1, Message: b, Signal: 1, Channel: 10, Scale: 1},
		{Source: 0, Message: a, Signal: 0, Channel: 11, Scale: 1},
		{Source: 1, Message: b, Signal: 0, Channel: 12, Scale: 1},
		{Source: 1, Message: a, Signal: 0, Channel: 13, Scale: 1},
	})
	if err != nil {
		t.Fatal(err)
	}
	want := []PlanMessage{
		{Source: 1, Message: b, Channels: []int32{10, 12}},
		{Source: 0, Message: a, Channels: []int32{11}},
		{Source: 1, Message: a, Channels: []int32{13}},
	}
	if diff := cmp.Diff(p.Messages(), want); diff != "" {
		t.Errorf("got (-), want (+):\n%s", diff)
	}
	for i, m := range want {
		f := frame(m.Message.ID, 1, 2)
		f.Source = m.Source
		if got := p.Lookup(f); got != i {
			t.Errorf("%s on %d: got %d, want %d", m.Message.Name, m.Source, got, i)
		}
	}
	got, _ := p.Decode(0, frame(2, 1, 2), nil)
	if want := []Value{{10, Inside, 2}, {12, Inside, 1}}; !cmp.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestCompileFaults(t *testing.T) {
	fine := Signal{Name: "S", Length: 8, Scale: 1}
	message := func(id uint32, extended bool, signals ...Signal) *Message {
		return &Message{Name: "M", ID: id, Extended: extended, Signals: signals}
	}
	bind := func(m *Message) Binding { return Binding{Message: m, Scale: 1} }
	with := func(b Binding, change func(*Binding)) Binding { change(&b); return b }
	good := bind(message(1, false, fine))
	same := bind(message(5, false, fine))
	extended := message(0x18FEF100, true, fine)
	tests := []struct {
		name     string
		bindings []Binding
		want     string
	}{
		{"no message", []Binding{{Scale: 1}}, "binding 1 (channel 0): no message"},
		{"no such signal", []Binding{with(good, func(b *Binding) { b.Signal = 1 })}, "message M has no signal number 1"},
		{"negative signal", []Binding{with(good, func(b *Binding) { b.Signal = -1 })}, "message M has no signal number -1"},
		{"factor not given", []Binding{with(good, func(b *Binding) { b.Scale = 0 })}, "factor 0: expected a finite number other than 0"},
		{"factor not finite", []Binding{with(good, func(b *Binding) { b.Scale = math.NaN() })}, "factor NaN: expected a finite number other than 0"},
		{"offset not finite", []Binding{with(good, func(b *Binding) { b.Offset = math.Inf(1) })}, "offset +Inf: expected a finite number"},
		{"identifier too large", []Binding{bind(message(0x800, false, fine))}, "identifier 0x800 does not fit"},
		{"identifier far too large", []Binding{bind(message(1<<29, true, fine))}, "identifier 0x20000000 does not fit"},
		{"beyond 64 bytes", []Binding{bind(message(1, false, Signal{Name: "S", Start: 511, Length: 2}))}, "signal S of message M: it lies beyond the 64 bytes of a frame"},
		{"no length", []Binding{bind(message(1, false, Signal{Name: "S"}))}, "length of 0 bits: expected 1 to 64"},
		{"half float", []Binding{bind(message(1, false, Signal{Name: "S", Length: 16, Float: true}))}, "a float of 16 bits: expected 32 or 64"},
		{"no switch", []Binding{bind(message(1, false, Signal{Name: "S", Length: 8, Mux: []MuxChoice{{Switch: 9}}}))}, "no signal number 9 to be its switch"},
		{"switch beyond", []Binding{bind(message(1, false, Signal{Name: "S", Length: 8, Mux: []MuxChoice{{Switch: 1}}}, Signal{Name: "X", Start: 600, Length: 8}))}, "its switch X: it lies beyond"},
		{"float switch", []Binding{bind(message(1, false, Signal{Name: "S", Length: 8, Mux: []MuxChoice{{Switch: 1}}}, Signal{Name: "X", Length: 32, Float: true}))}, "its switch X is a float"},
		{"PGN of 11 bits", []Binding{with(good, func(b *Binding) { b.PGN = true })}, "an identifier of 11 bits has no PGN"},
		{"PGN and not", []Binding{bind(extended), with(bind(extended), func(b *Binding) { b.PGN = true })}, "message M is matched both by identifier and by PGN"},
		{"same identifier", []Binding{same, bind(message(5, false, fine))}, "messages M and M have the same identifier 0x5 on one source"},
		{
			"same PGN",
			[]Binding{with(bind(extended), func(b *Binding) { b.PGN = true }), with(bind(message(0x0CFEF127, true, fine)), func(b *Binding) { b.PGN = true })},
			"the same PGN 0xfef1 on one source",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, err := Compile(append([]Binding{good}, tt.bindings...))
			if err == nil {
				t.Fatalf("got a plan of %d messages, want an error", len(p.Messages()))
			}
			want := strings.Replace(tt.want, "binding 1", "binding 2", 1)
			if !strings.Contains(err.Error(), want) {
				t.Errorf("got %q, want %q", err, want)
			}
		})
	}
	t.Run("all at once", func(t *testing.T) {
		_, err := Compile([]Binding{{Scale: 1}, good, {Scale: 1}, same, bind(message(5, false, fine))})
		if got := strings.Count(err.Error(), "\n") + 1; got != 3 {
			t.Errorf("got %d faults, want 3: %v", got, err)
		}
	})
	t.Run("one identifier, two sources, two formats", func(t *testing.T) {
		_, err := Compile([]Binding{same, with(bind(message(5, false, fine)), func(b *Binding) { b.Source = 1 }), bind(message(5, true, fine))})
		if err != nil {
			t.Error(err)
		}
	})
	t.Run("nothing wanted", func(t *testing.T) {
		p, err := Compile(nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := p.Lookup(frame(0)); got != -1 {
			t.Errorf("got %d, want -1", got)
		}
	})
}

func TestLookup(t *testing.T) {
	signals := []Signal{{Length: 8, Scale: 1}}
	p, err := Compile([]Binding{
		{Message: &Message{ID: 0x123, Signals: signals}, Scale: 1},                                            // 0
		{Message: &Message{ID: 0x123, Extended: true, Signals: signals}, Scale: 1},                            // 1
		{Message: &Message{ID: 0x18FEF100, Extended: true, Signals: signals}, Scale: 1, PGN: true},            // 2: PDU2, group FEF1
		{Message: &Message{ID: 0x18EF2700, Extended: true, Signals: signals}, Scale: 1, PGN: true},            // 3: PDU1, group EF00
		{Message: &Message{ID: 0x18FEF155, Extended: true, Signals: signals}, Scale: 1},                       // 4
		{Message: &Message{ID: 0, Signals: signals}, Scale: 1},                                                // 5
		{Message: &Message{ID: 0x7FF, Signals: signals}, Scale: 1},                                            // 6
		{Message: &Message{ID: 0x1FFFFFFF, Extended: true, Signals: signals}, Scale: 1},                       // 7
		{Source: 2, Message: &Message{ID: 0x00F00400, Extended: true, Signals: signals}, Scale: 1, PGN: true}, // 8: PDU2, the lowest format, group F004
		{Source: 2, Message: &Message{ID: 0, Extended: true, Signals: signals}, Scale: 1},                     // 9
	})
	if err != nil {
		t.Fatal(err)
	}
	// Groups after SAE J1939-21: PDU format below 240 is destination specific.
	tests := []struct {
		name   string
		id     uint32
		flags  bus.Flags
		source uint16
		want   int
	}{
		{"11 bits", 0x123, 0, 0, 0},
		{"29 bits of the same number", 0x123, bus.Extended, 0, 1},
		{"of another source", 0x123, 0, 1, -1},
		{"of a source beyond all", 0x123, 0, 9, -1},
		{"lowest", 0, 0, 0, 5},
		{"lowest of 29 bits is not wanted on this source", 0, bus.Extended, 0, -1},
		{"lowest of 29 bits", 0, bus.Extended, 2, 9},
		{"highest", 0x7FF, 0, 0, 6},
		{"highest of 29 bits", 0x1FFFFFFF, bus.Extended, 0, 7},
		{"unknown", 0x124, 0, 0, -1},
		{"unknown of 29 bits", 0x124, bus.Extended, 0, -1},
		{"remote", 0x123, bus.Remote, 0, -1},
		{"error", 0x123, bus.Error, 0, -1},
		{"error class, extended", 0x123, bus.Error | bus.Extended, 0, -1},
		{"FD", 0x123, bus.FD | bus.BitRateSwitch, 0, 0},
		{"11 bits beyond their range", 0x18FEF100, 0, 0, -1},
		{"group, its own identifier", 0x18FEF100, bus.Extended, 0, 2},
		{"group, other source address and priority", 0x0CFEF1AB, bus.Extended, 0, 2},
		{"group, exact identifier of another message first", 0x18FEF155, bus.Extended, 0, 4},
		{"another group extension", 0x18FEF200, bus.Extended, 0, -1},
		{"other data page", 0x19FEF100, bus.Extended, 0, -1},
		{"other extended data page", 0x1AFEF100, bus.Extended, 0, -1},
		{"destination specific, another destination", 0x18EFFF01, bus.Extended, 0, 3},
		{"destination specific, another format", 0x18EE2700, bus.Extended, 0, -1},
		{"format 240 is broadcast", 0x1CF00433, bus.Extended, 2, 8},
		{"format 240, another extension", 0x1CF00533, bus.Extended, 2, -1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := p.Lookup(&bus.Frame{ID: tt.id, Flags: tt.flags, Source: tt.source}); got != tt.want {
				t.Errorf("got %d, want %d", got, tt.want)
			}
		})
	}
}

// TestLookupMany compares the tables with a plain search.
func TestLookupMany(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	signals := []Signal{{Length: 8, Scale: 1}}
	known := map[[3]uint32]int{}
	var bindings []Binding
	for range 2000 {
		m := &Message{ID: rng.Uint32N(0x20000000) &^ 0x1FFF, Extended: true, Signals: signals}
		if rng.IntN(2) == 0 {
			m.ID, m.Extended = rng.Uint32N(0x800), false
		}
		source := rng.Uint32N(3)
		key := [3]uint32{source, m.ID, 0}
		if m.Extended {
			key[2] = 1
		}
		if _, ok := known[key]; ok {
			continue
		}
		known[key] = len(bindings)
		bindings = append(bindings, Binding{Source: uint16(source), Message: m, Scale: 1})
	}
	p, err := Compile(bindings)
	if err != nil {
		t.Fatal(err)
	}
	check := func(source, id uint32, extended bool) {
		f := &bus.Frame{ID: id, Source: uint16(source)}
		key := [3]uint32{source, id, 0}
		if extended {
			f.Flags, key[2] = bus.Extended, 1
		}
		want, ok := known[key]
		if !ok {
			want = -1
		}
		if got := p.Lookup(f); got != want {
			t.Fatalf("source %d id %#x extended %v: got %d, want %d", source, id, extended, got, want)
		}
	}
	for source := range uint32(4) {
		for id := range uint32(0x900) {
			check(source, id, false)
			check(source, id<<13, true)
			check(source, id, true)
		}
	}
	for key := range known {
		check(key[0], key[1], key[2] == 1)
	}
}
