package checks

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"
)

// everything names all checks: what a dead or wrongly read channel spoils.
func everything() []string {
	var names []string
	for _, c := range All() {
		names = append(names, c.Name)
	}
	return names
}

// sources names what is wrong with a whole bus: nothing of it can be judged.
func (x *explainer) sources() {
	for s, name := range x.setup.Sources {
		f := x.failed("bus", name)
		dead := x.failed("alive", name)
		if f == nil && dead == nil {
			continue
		}
		subjects := append([]string{name}, x.fedBy(s)...)
		b := &x.buses[s]
		c := Cause{Subjects: subjects}
		switch {
		case f != nil && x.strangerOf(s) >= 0:
			other := x.setup.Sources[x.strangerOf(s)]
			c.ID, c.Subjects = "adapters-exchanged:"+name+","+other, append(subjects, other)
			c.Sentence = "what " + other + " sends arrives on " + name + ": the adapters, or their cables, are exchanged"
			c.Next = "Exchange the cables of " + name + " and " + other + ", or their interfaces in the setup."
		case f != nil && dead != nil && b.ErrorFrames > 0:
			c.ID = "bit-rate:" + name
			c.Sentence = "the bit rate of " + name + " is probably wrong: " + num(float64(b.ErrorFrames), 0) + " error frames came, and nothing else"
			c.Next = f.Next
		case f != nil && b.Link == LinkNoValidFrame:
			c.ID, c.Sentence, c.Next = "baud-rate:"+name, name+": "+f.Sentence, f.Next // which says what is wrong
		case f != nil && b.NoAck > 0:
			c.ID = "no-acknowledge:" + name
			c.Sentence = "nobody acknowledges on " + name + ": " + f.Sentence
			c.Next = f.Next
		case f != nil && (b.Link == LinkAbsent || b.Link == LinkDown):
			c.ID, c.Sentence, c.Next = "not-connected:"+name, f.Sentence, f.Next
			if x.heard(s) { // what failed before the adapter was pulled out at the end of a drive has failed all the same
				x.claim(c, func(f *Finding) bool {
					return f.Verdict == Inconclusive || f.Check == "alive" || f.Check == "bus"
				})
				continue
			}
		case dead != nil:
			c.ID = "source-off:" + name
			c.Sentence = "the amplifier of " + name + " is off, or its cable is not plugged in: " + dead.Sentence
			c.Next = dead.Next
		default:
			continue
		}
		x.add(c, everything())
	}
	x.amplifier()
}

// heard tells whether anything that is known has come from a source.
func (x *explainer) heard(s int) bool {
	for i := range x.setup.Messages {
		if x.setup.Messages[i].Source == s && x.timings[i].Count > 0 {
			return true
		}
	}
	return false
}

// fedBy lists the corners and optics all of whose messages come from a source.
func (x *explainer) fedBy(s int) []string {
	var out []string
	only := func(name string, chs *Channels) {
		fed := false
		for _, ch := range chs {
			if ch == None {
				continue
			}
			if x.setup.Messages[x.setup.Channels[ch].Message].Source != s {
				return
			}
			fed = true
		}
		if fed {
			out = append(out, name)
		}
	}
	for i := range x.setup.Corners {
		only(x.setup.Corners[i].Name, &x.setup.Corners[i].Channels)
	}
	for i := range x.setup.Optics {
		only(x.setup.Optics[i].Name, &x.setup.Optics[i].Channels)
	}
	return out
}

// amplifier: all corners are silent although something else speaks; or one harness is not plugged in.
func (x *explainer) amplifier() {
	var dead []string
	for i := range x.setup.Corners {
		name := x.name(i)
		if f := x.failed("alive", name); f != nil && x.dead(&x.setup.Corners[i].Channels) {
			dead = append(dead, name)
		}
	}
	switch {
	case len(dead) > 1 && len(dead) == len(x.setup.Corners):
		x.add(Cause{
			ID: "amplifier-off", Subjects: append(slices.Clone(dead), "vehicle"),
			Sentence: "nothing comes from any wheel: the amplifier is off, or its cable is not plugged in",
			Next:     "See that the amplifier has supply and is switched on, then its cable.",
		}, everything())
	default:
		for _, name := range dead {
			x.add(Cause{
				ID: "unplugged:" + name, Subjects: []string{name},
				Sentence: "nothing comes from " + name + ": its harness is not plugged in, or its electronics has no supply",
				Next:     "Plug in the cable of " + name + ", at the wheel and at the amplifier, and see that its electronics has supply.",
			}, everything())
		}
	}
}

// dead tells whether none of the messages that carry these channels has ever come.
func (x *explainer) dead(chs *Channels) bool {
	for _, ch := range chs {
		if ch != None && x.timings[x.setup.Channels[ch].Message].Count > 0 {
			return false
		}
	}
	return true
}

// signals names what is wrong with the signals of single wheels.
func (x *explainer) signals() {
	var hum []string
	for i := range x.corners {
		name := x.name(i)
		x.scrambled(i)
		x.factor(i)
		x.senses(i)
		if f := x.failed("supply", name); f != nil {
			x.add(Cause{
				ID: "supply:" + name, Subjects: []string{name},
				Sentence: "the supply of " + name + " sags: " + f.Sentence, Next: f.Next,
			}, []string{"supply", "alive", "status", "noise", "spikes", "range", "frozen", "temperature", "drift/rate"})
		}
		if f := x.failed("clipped", name); f != nil {
			x.add(Cause{
				ID: "range-too-small:" + name, Subjects: []string{name, "vehicle"},
				Sentence: "the amplifier's range of " + name + " is too small, or a channel is overloaded: " + f.Sentence, Next: f.Next,
			}, []string{"clipped", "range", "load", "noise", "spikes", "weight"})
		}
		x.standing(i)
		if x.failed("hum", name) != nil {
			hum = append(hum, name)
		}
		if f := x.failed("drag", name); f != nil {
			x.add(Cause{
				ID: "drag:" + name, Subjects: []string{name},
				Sentence: "brake or bearing of " + name + " drags evenly, at each angle alike: " + f.Sentence, Next: f.Next,
			}, []string{"drag"})
		}
	}
	if len(hum) > 0 {
		x.add(Cause{
			ID: "mains:" + strings.Join(hum, ","), Subjects: hum,
			Sentence: "mains is near the cables of " + list(hum) + ": a line of 50 or 60 Hz stands out of their signals",
			Next:     "Move the cables away from mains leads, chargers and lifts; look at the shield and the ground of the amplifier.",
		}, []string{"hum", "noise", "drift/noise"})
	}
}

// scrambled: values jump by powers of 256 raw steps, as where the bytes of a signal are taken in the wrong order.
func (x *explainer) scrambled(i int) {
	set := &x.setup.Corners[i]
	var which []string
	for q := range Quantity(components) {
		if set.Channels[q] == None {
			continue
		}
		if s := &x.channels[set.Channels[q]].signal.leaps; s.Large >= 200 && s.Bytes > s.Large*4/5 {
			which = append(which, q.String())
		}
	}
	if len(which) == 0 {
		return
	}
	x.add(Cause{
		ID: "byte-order:" + set.Name, Subjects: []string{set.Name},
		Sentence: list(which) + " of " + set.Name + " leap by multiples of 256 raw steps: the DBC has the wrong byte order, or it belongs to another firmware",
		Next:     "Compare the byte order of these signals in the DBC with the amplifier's description.",
	}, everything())
}

// leaps counts changes of a channel by more than 128 raw steps, and those of them that are nearly multiples of 256.
type leaps struct {
	least float64 // of a large one; +Inf where there are no raw steps
	step  float64
	Large int64
	Bytes int64
}

// enoughLeaps is after how many large changes no more are looked at.
const enoughLeaps = 1000

func newLeaps(step float64) leaps {
	if step <= 0 {
		return leaps{least: math.Inf(1)}
	}
	return leaps{step: step, least: 128 * step}
}

func (l *leaps) add(d float64) {
	if d < l.least && d > -l.least {
		return
	}
	if l.Large++; l.Large == enoughLeaps {
		l.least = math.Inf(1) // a rolling wheel has many: what is to be known is known
	}
	if n := d / l.step / 256; math.Abs(n-math.Round(n)) < 0.03 {
		l.Bytes++
	}
}

// factor: the forces are off by a factor that units make.
func (x *explainer) factor(i int) {
	set := &x.setup.Corners[i]
	name := set.Name
	if !set.fitted(Fx, Fz) {
		return
	}
	weight, load := x.find("weight", name), x.find("load", name)
	bad := func(f *Finding) bool { return f != nil && f.Cause == "" && f.Verdict == Fail }
	if set.LoadN <= 0 || x.timings[x.setup.Channels[set.Channels[Fz]].Message].Count == 0 {
		return
	}
	largest := 0.0
	for _, q := range [2]Quantity{Fx, Fz} {
		if ch := set.Channels[q]; ch != None {
			largest = math.Max(largest, math.Max(-x.channels[ch].level.Low, x.channels[ch].level.High))
		}
	}
	if largest < set.LoadN/50 && x.spins[i].evidence.Revolutions > 0 {
		x.add(Cause{
			ID: "unit:" + name, Subjects: []string{name, "vehicle"},
			Sentence: "the forces of " + name + " never went beyond " + show(largest, "N") + ", though it must carry " + num(set.LoadN, 0) + " N: kN are taken for N, or its bridge is not connected",
			Next:     "Correct the unit of the forces of " + name + " in the setup ({signal: …, unit: …}) or in the DBC; else look at its plug.",
		}, everything())
		return
	}
	// The largest force of a test is the load on the element, whatever the wheel is taken to do.
	ratio := largest / math.Max(set.LoadN-set.WheelMassKg*gravity, 1)
	for _, u := range []struct {
		factor float64
		text   string
	}{{1000, "N are taken for kN"}, {gravity, "kg are taken for N the wrong way round"}, {1 / gravity, "kg are taken for N"}} {
		if math.Abs(ratio/u.factor-1) > 0.15 || !bad(weight) && !bad(load) {
			continue
		}
		x.add(Cause{
			ID: "unit:" + name, Subjects: []string{name, "vehicle"},
			Sentence: "the forces of " + name + " are off by a factor of " + num(ratio, 4) + ": " + u.text,
			Next:     "Correct the unit of the forces of " + name + " in the setup ({signal: …, unit: …}) or in the DBC.",
		}, everything())
		return
	}
}

// senses tells, where the angle counts against the forces, which sign or axis is the wrong one: the
// part that dominates points where the hanging weight seems to pull.
func (x *explainer) senses(i int) {
	name := x.name(i)
	f := x.failed("angle-sense", name)
	if f == nil || !x.spins[i].reversed() {
		return
	}
	var sum complex128
	for k := range x.spins[i].revolutions {
		sum += x.spins[i].revolutions[k].Minus
	}
	phase := cmplx.Phase(sum) * 180 / math.Pi // −i·m·g conjugated or not, turned by i where the axes are exchanged
	c := Cause{Subjects: []string{name}, Next: f.Next}
	switch {
	case math.Abs(math.Abs(phase)-180) < 30 || math.Abs(phase) < 30:
		c.ID = "axes-exchanged:" + name
		c.Sentence = "fx and fz of " + name + " are exchanged: the hanging weight pulls along fx"
		c.Next = "Exchange fx and fz of " + name + " in the setup, or the plugs of its bridges; then mx and mz as well."
	case math.Abs(phase+90) < 30:
		c.ID = "mirrored:" + name
		c.Sentence = "the angle of " + name + " counts backward, or fx has the wrong sign: the left/right setting of the amplifier is probably wrong"
		c.Next = "Set " + name + " at the amplifier to the side that it is mounted on; else give fx or angle sign: -1 in the setup."
	case math.Abs(phase-90) < 30:
		c.ID = "sign:" + name
		c.Sentence = "fz of " + name + " has the wrong sign: the hanging weight pulls up"
		c.Next = "Give fz of " + name + " sign: -1 in the setup, or correct it at the amplifier."
	default:
		return
	}
	x.add(c, []string{"angle-sense", "angle-offset", "skew", "angle-slip", "agreement", "coupling"})
}

// find returns the finding of a check about a whole subject.
func (x *explainer) find(check, subject string) *Finding {
	for i := range x.findings {
		if f := &x.findings[i]; f.Check == check && f.Subject == subject && f.Channel == "" {
			return f
		}
	}
	return nil
}
