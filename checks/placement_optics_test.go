package checks

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestPlaceOptics(t *testing.T) {
	// board lies under the wheels' bars for so many seconds.
	board := func(y *yard, seconds, m float64, bars ...int) {
		for _, i := range bars {
			y.bars[i].outer, y.bars[i].inner, y.bars[i].third = y.bars[i].outer-m, y.bars[i].inner-m, y.bars[i].third-m
		}
		y.run(seconds)
		for _, i := range bars {
			y.bars[i].outer, y.bars[i].inner, y.bars[i].third = y.bars[i].outer+m, y.bars[i].inner+m, y.bars[i].third+m
		}
		y.run(2)
	}
	mark := func(y *yard, text string) { y.judge.Mark(y.at, text) }
	for _, c := range []struct {
		name string
		do   func(*yard)
		open []string // of placement
		says string   // of bar FL
	}{
		{"nothing held", func(y *yard) { y.stand(8) }, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "nothing has been held"},
		{"board without a word", func(y *yard) { y.stand(4); board(y, 3, 0.03, 0) }, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "bar FL alone answered"},
		{"boards with marks", func(y *yard) {
			y.stand(4)
			mark(y, "board bar FL")
			board(y, 3, 0.03, 0)
			mark(y, "board FR")
			board(y, 3, 0.03, 1)
		}, nil, "by −30.0 mm"},
		{"a hand under one lens", func(y *yard) {
			y.stand(4)
			mark(y, "Hand  bar fl")
			y.bars[0].inner -= 0.12
			y.run(2)
			y.bars[0].inner += 0.12
			y.run(2)
		}, []string{"placement bar FR inconclusive"}, "by −1"},
		{"exchanged", func(y *yard) {
			y.stand(4)
			mark(y, "board bar FL")
			board(y, 3, 0.03, 1)
			mark(y, "board bar FR")
			board(y, 3, 0.03, 0)
		}, []string{"placement bar FL fail", "placement bar FR fail"}, "answered when something was held under"},
		{"under both", func(y *yard) { y.stand(4); mark(y, "board bar FL"); board(y, 3, 0.03, 0, 1) }, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "nothing has been held"},
		{"too thin", func(y *yard) { y.stand(4); mark(y, "board bar FL"); board(y, 3, 0.015, 0) }, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "nothing has been held"},
		{"while it hangs", func(y *yard) { y.stand(4); y.lift(); y.run(2); mark(y, "board bar FL"); board(y, 3, 0.03, 0) }, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "nothing has been held"},
		{"while it rolls", func(y *yard) {
			y.stand(4)
			mark(y, "board bar FL")
			y.bars[0].inner -= 0.1
			y.roll(3, 3, 0)
			y.bars[0].inner += 0.1
		}, []string{"placement bar FL inconclusive", "placement bar FR inconclusive"}, "nothing has been held"},
		{"one for two corners", func(y *yard) {
			y.begin()
			from := y.send
			y.send = func(at int64, message int, samples []Sample) {
				*y.bars[1] = *y.bars[0]
				from(at, message, samples)
			}
			y.bars[0].noise = 0
			for k := range 700 {
				y.bars[0].outer = 0.2 + 1e-5*float64(k%50)
				y.run(0.01)
			}
		}, []string{"placement bar FL fail", "placement bar FR fail"}, "the same numbers for height_outer, sample for sample"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(6, "FL", "FR")
			c.do(y)
			got := y.judged(t)
			var optics []string
			for _, name := range only(got, "placement") {
				if contains(name, "bar") || contains(name, "road") {
					optics = append(optics, name)
				}
			}
			if diff := cmp.Diff(optics, c.open); diff != "" {
				t.Errorf("what is open (−got +want):\n%s", diff)
			}
			f := find(got, "placement", "bar FL", "")
			if !contains(f.Sentence, c.says) {
				t.Errorf("says %q, want %q in it", f.Sentence, c.says)
			}
			if f.Required {
				t.Error("placement of a sensor bar is required, want not")
			}
			if road := find(got, "placement", "road", ""); road.Verdict != Absent {
				t.Errorf("road: %s, want absent: there is only one", road.Verdict)
			}
		})
	}
}

func TestBoardWord(t *testing.T) {
	y := newYard(1, "FL", "FR")
	y.begin()
	for _, c := range []struct {
		text string
		word string
		at   int
	}{
		{"board bar FR", "board", 1},
		{"hand road", "board", 2},
		{"BOARD  Bar  fl", "board", 0},
		{"board FR", "board", 1},
		{"board", "", -1},
		{"board RR", "", -1},
		{"a board FR", "", -1},
	} {
		word, at := y.judge.markWord(y.at, c.text)
		if word != c.word || at != c.at {
			t.Errorf("%q: %q %d, want %q %d", c.text, word, at, c.word, c.at)
		}
	}
}
