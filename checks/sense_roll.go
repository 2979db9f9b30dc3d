package checks

import "fmt"

// senseHalves is how many halves of a second on a roll must say the same of an angle's direction.
const senseHalves = 6

// senseOnRoll lets angle-sense of corner i fail where its angle counts against the ground speed or against all
// other wheels on a roll. Forces and angle of one transducer can be mirrored together: its own turns do not
// show that. A vehicle that rolls back turns all of them round.
func (v *view) senseOnRoll(i int, f *Finding) {
	if v.rolls.senses == nil || f.Verdict == Fail || f.Verdict == Absent {
		return
	}
	s := &v.rolls.senses[i]
	speed := mostly(s.againstSpeed, s.withSpeed) && !v.allAgainstSpeed()
	others := mostly(s.against, s.with)
	var names []string
	for k := range v.corners {
		if o := &v.rolls.senses[k]; k != i && o.with+o.against > 0 {
			names = append(names, v.corners[k].setup.Name)
		}
	}
	var by string
	switch {
	case speed:
		by = "the ground speed"
	case others && len(names) >= 2:
		by = list(names)
	case others && len(names) == 1 && !mostly(s.withSpeed, s.againstSpeed):
		f.Verdict = Inconclusive
		f.Sentence = "on the roll the angles of " + f.Subject + " and " + names[0] + " count in opposite directions, and nothing tells which is right"
		f.Next = "Roll the vehicle forward and see which angle counts down; set its direction for the side on which it is mounted."
		return
	default:
		return
	}
	f.Verdict = Fail
	f.Sentence = fmt.Sprintf("on the roll the angle of %s counts against %s: it is mounted mirrored, and neither its angle nor its forces are set for that side", f.Subject, by)
	f.Next = "Set side and direction of " + f.Subject + " at the amplifier, or the signs of its angle, fx, mx and my in the setup, then turn the lifted wheel again."
}

// mostly tells whether nearly all of enough halves say a thing.
func mostly(yes, no int64) bool { return yes >= senseHalves && yes > 10*no }

// allAgainstSpeed tells whether every wheel of several counts against the ground speed: then the
// sensor is mounted the wrong way round, which slip tells.
func (v *view) allAgainstSpeed() bool {
	n := 0
	for i := range v.rolls.senses {
		s := &v.rolls.senses[i]
		if s.withSpeed > s.againstSpeed {
			return false
		}
		count(&n, s.againstSpeed > 0)
	}
	return n >= 2
}
