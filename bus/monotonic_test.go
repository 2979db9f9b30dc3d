package bus

import "testing"

func TestMonotonicTime(t *testing.T) {
	const hour = 3_600_000_000_000
	var m MonotonicTime
	if _, known := m.Of(5); known {
		t.Error("the zero value knows")
	}
	m.Note(&Note{Kind: Clock, Step: hour}) // before anything is known
	m.Note(&Note{Kind: Mark, At: 77})
	if _, known := m.Of(5); known {
		t.Error("a step alone tells nothing")
	}
	for _, c := range []struct {
		name  string
		note  Note
		at    int64 // of a frame after it
		want  int64
		known bool
	}{
		{"both clocks", Note{Kind: BothClocks, At: 1000 * hour, Monotonic: 50}, 1000*hour + 7, 57, true},
		{"set forward", Note{Kind: Clock, Step: hour}, 1001*hour + 9, 59, true},
		{"read again, 3 ns off", Note{Kind: BothClocks, At: 1001*hour + 12, Monotonic: 65}, 1001*hour + 20, 73, true},
		{"set back", Note{Kind: Clock, Step: -2 * hour}, 999*hour + 30, 83, true},
		{"what is no clock", Note{Kind: Tick, At: 5}, 999*hour + 31, 84, true},
	} {
		m.Note(&c.note)
		if got, known := m.Of(c.at); got != c.want || known != c.known {
			t.Errorf("%s: got %d, %v, want %d, %v", c.name, got, known, c.want, c.known)
		}
	}
}
