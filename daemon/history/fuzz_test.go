package history

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

// FuzzRead: whatever stands in the files of a folder, it is read or told as a problem, and what comes of it can be written:
// every number is finite and every file is in one of the counts. The same folder says the same again, and a transducer alone says
// what it says among others.
func FuzzRead(f *testing.F) {
	one := encoded(f, test(0, "Minibus 7", "FL", "left", 40117, 2)).Data
	several := encoded(f, test(0, "Minibus 7", "FL", "left", 40117, 2), test(30, "Minibus 7", "RL", "left", 40117, 3), test(60, "Minibus 8", "RR", "right", 40117, 9), test(61, "Minibus 8", "RR", "right", 40118, 9)).Data
	for _, seed := range [][2][]byte{
		{one, several},
		{several, one},
		{several, bytes.ReplaceAll(several, []byte("2026-03"), []byte("2026-09"))},
		{several, bytes.ReplaceAll(several, []byte("0.5"), []byte("0"))},
		{bytes.ReplaceAll(several, []byte("0.5"), []byte("1e308")), bytes.ReplaceAll(several, []byte("1.001"), []byte("-1.7e308"))},
		{[]byte(`{"files": 3}`), []byte(`{"schema": 1, "findings": [{"check": "zero"`)},
		{[]byte(`{"schema": 9, "findings": []}`), []byte(`[null, {}]`)},
		{nil, []byte("\x00")},
	} {
		f.Add(seed[0], seed[1])
	}
	f.Fuzz(func(t *testing.T, a, b []byte) {
		folder := fstest.MapFS{"a.json": {Data: a}, "later/b.json": {Data: b}}
		h := read(t, folder, nil)
		var out bytes.Buffer
		if err := h.Encode(&out); err != nil {
			t.Fatal(err)
		}
		again := read(t, folder, nil)
		if diff := cmp.Diff(h, again); diff != "" {
			t.Errorf("read twice:\n%s", diff)
		}
		for i := range h.Transducers {
			d := &h.Transducers[i]
			for _, p := range d.Points {
				for _, v := range p.Values {
					if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || v.Uncertainty < 0 {
						t.Errorf("%d: %+v", d.Serial, v)
					}
				}
			}
			if !slices.IsSortedFunc(d.Points, func(a, b Point) int { return int(min(max(a.At-b.At, -1), 1)) }) {
				t.Errorf("%d: the tests are not in order", d.Serial)
			}
			alone := read(t, folder, &d.Serial)
			if len(alone.Transducers) != 1 || !cmp.Equal(alone.Transducers[0].Points, d.Points) {
				t.Errorf("%d alone: %+v, among others %+v", d.Serial, alone.Transducers, d)
			}
		}
		for _, p := range h.Problems {
			if p.File != "a.json" && p.File != "later/b.json" || strings.TrimSpace(p.Text) == "" {
				t.Errorf("problem %+v", p)
			}
		}
	})
}
