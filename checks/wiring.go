package checks

import (
	"math"
)

// wiring is what the turns of the lifted wheels tell of the plugs.
type wiring struct {
	bonds    []bond // by corner
	sessions []session
	along    [][]span     // by corner: when it was only driven along by the opposite wheel
	said     [][words]int // by corner and by what tells: the corner on which its plug sits; -1: it does not tell
	twins    [][2]int
	twinOf   map[[2]int]Quantity
}

// bond says to whose angle the radial forces of a corner answer.
type bond struct {
	turned bool    // its own angle made a whole turn while its forces were those of a lifted wheel
	own    bool    // and the forces answered
	to     int     // the corner whose angle they answer to instead; -1: none
	size   float64 // of that answer, N
}

// word is what was said of where a plug sits.
type word uint8

const (
	byNothing word = iota
	byOrder
	bySerial
	byMark
	words
)

func (w word) String() string {
	return [words]string{"nothing", "the turn order", "the serial number", "the mark in the recording"}[w]
}

// where returns on which corner the plug of corner i sits and what tells so, the most trusted
// first: a mark, a serial number, the turn order.
func (w *wiring) where(i int) (corner int, by word) {
	for by := words - 1; by > byNothing; by-- {
		if c := w.said[i][by]; c >= 0 {
			return c, by
		}
	}
	return -1, byNothing
}

// leastAnswerN is the least size of forces that answer to an angle, where the mass of the
// wheel is not known; common practice: a quarter of what a small wheel weighs.
const leastAnswerN = 40

func newWiring(v *view) wiring {
	w := wiring{twinOf: map[[2]int]Quantity{}}
	for i := range v.corners {
		w.bonds = append(w.bonds, v.bond(i))
	}
	w.sessions, w.along = v.sessions()
	w.findTwins(v)
	w.said = make([][words]int, len(v.corners))
	for i := range w.said {
		for by := range words {
			w.said[i][by] = -1
		}
	}
	w.byOrder(v)
	w.bySerial(v)
	w.byMark(v)
	return w
}

// least returns how large an answer of corner i must be to count, N.
func (v *view) least(i int) float64 {
	if m := v.setup.Corners[i].WheelMassKg; m > 0 {
		return m * gravity / 2
	}
	return leastAnswerN
}

func (v *view) bond(i int) bond {
	s := &v.spins[i]
	b := bond{turned: len(s.revolutions) > 0, to: -1}
	own, best, at := s.size(), 0.0, -1
	for k := range v.corners[i].answers {
		a := &v.corners[i].answers[k]
		if k == i || a.Revolutions == 0 {
			continue
		}
		// Against the angle does not count here: beside a driven wheel that is the opposite wheel turning backward.
		if a.Plus > 2*a.Minus && a.Plus > best {
			best, at = a.Plus, k
		}
	}
	least := v.least(i)
	// A sensor of the wrong scale answers weakly, but to its own angle alone.
	weak := own > least/10 && own > 5*math.Max(best, 1)
	b.own = b.turned && (own >= least && (s.plus >= s.minus || best < least) || weak)
	if !b.own && best >= least && best > 2*s.plus {
		b.to, b.size = at, best
	}
	return b
}

// byOrder compares the order in which angles first turned with the workshop's.
func (w *wiring) byOrder(v *view) {
	order := v.setup.TurnOrder
	k := 0
	seen := map[int]bool{}
	for _, s := range w.sessions {
		if seen[s.corner] {
			continue
		}
		seen[s.corner] = true
		if k == len(order) {
			return
		}
		w.said[s.corner][byOrder] = order[k]
		k++
	}
}

// bySerial looks for the corner whose serial number each transducer sends.
func (w *wiring) bySerial(v *view) {
	for i := range v.corners {
		sent, ok := v.serial(i)
		if !ok {
			continue
		}
		for k := range v.setup.Corners {
			if c := &v.setup.Corners[k]; c.HasSerial && c.Serial == sent {
				w.said[i][bySerial] = k
			}
		}
	}
}

// serial returns the serial number that corner i sends.
func (v *view) serial(i int) (uint64, bool) {
	ch := v.setup.Corners[i].Channels[Serial]
	if ch == None || v.channels[ch].level.Count == 0 {
		return 0, false
	}
	last := v.channels[ch].level.Last
	if last < 0 || last > 1<<53 {
		return 0, false
	}
	return uint64(last), true
}

// byMark takes "turn FL" for the next wheel that was turned.
func (w *wiring) byMark(v *view) {
	for i := range v.marks {
		m := &v.marks[i]
		if m.word != "turn" || m.corner < 0 {
			continue
		}
		until := int64(math.MaxInt64)
		for k := i + 1; k < len(v.marks); k++ {
			if v.marks[k].word == "turn" {
				until = v.marks[k].At
				break
			}
		}
		for _, s := range w.sessions {
			if s.from >= m.At && s.from < until {
				w.said[s.corner][byMark] = m.corner
				break
			}
		}
	}
}

// findTwins lists the pairs of corners that carry the same numbers.
func (w *wiring) findTwins(v *view) {
	const enough = 200 // changes: by chance a tenth of them agree at the most
	for i := range v.corners {
		for k := i + 1; k < len(v.corners); k++ {
			for q := range Quantities {
				if !twinQuantity(q) {
					continue
				}
				a, b := &v.corners[i].twins[k], &v.corners[k].twins[i]
				share := 0.0
				for _, t := range []*twin{a, b} {
					if t.Changes[q] >= enough {
						share = math.Max(share, float64(t.Equal[q])/float64(t.Changes[q]))
					}
				}
				if share > 0.9 {
					w.twins = append(w.twins, [2]int{i, k})
					w.twinOf[[2]int{i, k}] = q
					break
				}
			}
		}
	}
}

// twin returns the corner that carries the same numbers as i, and in which quantity; -1: none.
func (w *wiring) twin(i int) (int, Quantity) {
	for _, t := range w.twins {
		if t[0] == i {
			return t[1], w.twinOf[t]
		}
		if t[1] == i {
			return t[0], w.twinOf[t]
		}
	}
	return -1, 0
}

// restLoad returns the contact load that corner i's channel shows at rest on the ground, N.
func (v *view) restLoad(i int) (float64, bool) {
	r := v.restForce(i)
	if r.N() == 0 {
		return 0, false
	}
	return r.Mean() + v.hangingN(i), true
}

// hangingN is what the wheel weighs outboard of the measuring element, N: by its mass, else
// as it weighed itself while it was turned.
func (v *view) hangingN(i int) float64 {
	if m := v.setup.Corners[i].WheelMassKg; m > 0 {
		return m * gravity
	}
	if v.wiring.bonds != nil && v.wiring.bonds[i].own {
		return v.spins[i].size()
	}
	return 0
}

// loadsSay compares the resting loads of two corners with the setup's: +1 they fit as
// labelled, −1 they fit exchanged, 0 they cannot tell. Loads that differ by less than 5 % cannot.
func (v *view) loadsSay(i, k int) int {
	wi, wk := v.setup.Corners[i].LoadN, v.setup.Corners[k].LoadN
	li, okI := v.restLoad(i)
	lk, okK := v.restLoad(k)
	if !okI || !okK || wi <= 0 || wk <= 0 || math.Abs(wi-wk) < 0.05*(wi+wk)/2 {
		return 0
	}
	straight := math.Abs(li-wi)/wi + math.Abs(lk-wk)/wk
	exchanged := math.Abs(li-wk)/wk + math.Abs(lk-wi)/wi
	switch {
	case straight < exchanged/3:
		return +1
	case exchanged < straight/3:
		return -1
	}
	return 0
}
