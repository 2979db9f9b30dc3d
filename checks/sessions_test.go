package checks

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Which wheel was turned by hand, from the movements of the angles alone.
func TestSessions(t *testing.T) {
	const s = int64(1e9)
	move := func(corner int, dir int8, from, to int64, travel float64) phase {
		return phase{corner, dir, from * s, to * s, travel}
	}
	type turned struct {
		corner int
		from   int64
		back   bool
	}
	for _, c := range []struct {
		name   string
		moves  []phase
		marks  []int64 // s, of "turn"
		want   []turned
		driven []int // how often each corner was driven along
	}{
		{"none", nil, nil, nil, []int{0, 0, 0}},
		{"one after the other", []phase{move(0, 1, 0, 5, 20), move(1, 1, 10, 15, 20)}, nil, []turned{{0, 0, false}, {1, 10, false}}, []int{0, 0, 0}},
		{"forward and back", []phase{move(0, 1, 0, 5, 20), move(0, -1, 6, 11, 20)}, nil, []turned{{0, 0, true}}, []int{0, 0, 0}},
		{"back first", []phase{move(0, -1, 0, 5, 20)}, nil, []turned{{0, 0, true}}, []int{0, 0, 0}},
		{"differential", []phase{move(0, 1, 0, 5, 20), move(1, -1, 0, 5, 20)}, nil, []turned{{0, 0, false}}, []int{0, 1, 0}},
		{"differential, listed the other way", []phase{move(0, -1, 0, 5, 20), move(1, 1, 0, 5, 20)}, nil, []turned{{1, 0, false}}, []int{1, 0, 0}},
		{
			"differential, forward and back",
			[]phase{move(0, 1, 0, 5, 20), move(1, -1, 0, 5, 20), move(0, -1, 6, 11, 20), move(1, 1, 6, 11, 20)},
			nil,
			[]turned{{0, 0, true}},
			[]int{0, 2, 0},
		},
		{
			"differential, both wheels",
			[]phase{
				move(0, 1, 0, 5, 20), move(1, -1, 0, 5, 20), move(0, -1, 6, 11, 20), move(1, 1, 6, 11, 20),
				move(1, 1, 20, 25, 20), move(0, -1, 20, 25, 20), move(1, -1, 26, 31, 20), move(0, 1, 26, 31, 20),
			},
			nil,
			[]turned{{0, 0, true}, {1, 20, true}},
			[]int{2, 2, 0},
		},
		{
			"differential, forward only, called for",
			[]phase{move(0, 1, 0, 5, 20), move(1, -1, 0, 5, 20), move(1, 1, 10, 15, 20), move(0, -1, 10, 15, 20)},
			[]int64{0, 9},
			[]turned{{0, 0, false}, {1, 10, false}},
			[]int{1, 1, 0},
		},
		{"two by hand, not together", []phase{move(0, 1, 0, 10, 40), move(1, -1, 8, 12, 15)}, nil, []turned{{0, 0, false}, {1, 8, true}}, []int{0, 0, 0}},
		{"two by hand, the same way round", []phase{move(0, 1, 0, 10, 40), move(1, 1, 0, 10, 40)}, nil, []turned{{0, 0, false}, {1, 0, false}}, []int{0, 0, 0}},
		{"turned again", []phase{move(0, 1, 0, 5, 20), move(1, 1, 10, 15, 20), move(0, 1, 20, 25, 20)}, nil, []turned{{0, 0, false}, {1, 10, false}, {0, 20, false}}, []int{0, 0, 0}},
		{"turned again when called for", []phase{move(0, 1, 0, 5, 20), move(0, 1, 10, 15, 20)}, []int64{9}, []turned{{0, 0, false}, {0, 10, false}}, []int{0, 0, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(1, "A", "B", "C")
			r.start()
			for _, m := range c.moves {
				p := &r.judge.corners[m.corner].phases
				p.list = append(p.list, m)
			}
			for _, at := range c.marks {
				r.judge.Mark(at*s, "turn A")
			}
			v := &view{Judge: r.judge}
			sessions, along := v.sessions()
			var got []turned
			for _, x := range sessions {
				got = append(got, turned{x.corner, x.from / s, x.back})
			}
			if diff := cmp.Diff(got, c.want, cmp.AllowUnexported(turned{})); diff != "" {
				t.Errorf("turned (−got +want):\n%s", diff)
			}
			var driven []int
			for _, spans := range along {
				driven = append(driven, len(spans))
			}
			if diff := cmp.Diff(driven, c.driven); diff != "" {
				t.Errorf("driven along (−got +want):\n%s", diff)
			}
		})
	}
}

func TestPhasesAreBounded(t *testing.T) {
	var p phases
	for k := range 500 {
		p.on, p.most = true, 10
		p.close(0, int64(k))
	}
	if len(p.list) != maxPhases {
		t.Errorf("%d movements kept, want %d", len(p.list), maxPhases)
	}
}
