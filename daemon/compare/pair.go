package compare

import (
	"slices"
	"strconv"

	"plumbline/checks"
	"plumbline/daemon"
)

// belongs says whose property a quantity is, which decides what it is compared with.
type belongs uint8

const (
	toTransducer belongs = iota // goes with the serial number, wherever it is mounted
	toWheel                     // stays at the corner of the vehicle
	toOptic                     // stays with the name of the sensor
)

// quantity is a check whose values are compared.
type quantity struct {
	check string
	belongs
	mirrored bool // its sign depends on the side of the vehicle on which a transducer sits
}

// quantities lists them in the order of the checks.
func quantities() []quantity {
	return []quantity{
		{"zero", toTransducer, true},
		{"weight", toTransducer, false},
		{"axes", toTransducer, false},
		{"drag", toWheel, false},
		{"angle-offset", toTransducer, true},
		{"clearance", toOptic, false},
		{"camber", toOptic, false},
	}
}

func quantityOf(check string) (quantity, bool) {
	all := quantities()
	i := slices.IndexFunc(all, func(q quantity) bool { return q.check == check })
	if i < 0 {
		return quantity{}, false
	}
	return all[i], true
}

// side is one test, with what pairing needs.
type side struct {
	result      *daemon.Result
	transducers map[string]*daemon.Transducer // by corner
	bySerial    map[uint64]*daemon.Transducer // a number that two corners carry is none
	doubled     []uint64                      // such numbers
}

func sideOf(r *daemon.Result) side {
	s := side{result: r, transducers: map[string]*daemon.Transducer{}, bySerial: map[uint64]*daemon.Transducer{}}
	for i := range r.Transducers {
		t := &r.Transducers[i]
		s.transducers[t.Corner] = t
		if t.Serial == nil {
			continue
		}
		if _, have := s.bySerial[*t.Serial]; have {
			s.doubled = append(s.doubled, *t.Serial)
		}
		s.bySerial[*t.Serial] = t
	}
	for _, n := range s.doubled {
		delete(s.bySerial, n)
	}
	return s
}

// serial returns the number of the transducer of a corner, nil where it is not known for certain.
func (s *side) serial(corner string) *uint64 {
	t := s.transducers[corner]
	if t == nil || t.Serial == nil || s.bySerial[*t.Serial] == nil {
		return nil
	}
	return t.Serial
}

// pair is a quantity in both tests, or in one of them.
type pair struct {
	quantity
	channel       string
	before, after *daemon.Finding
	was, is       *daemon.Transducer
	serial        *uint64
	why, next     string // why the two cannot be compared, whatever their values
}

// subject is where the quantity is after, or before where it is known there alone.
func (p *pair) subject() string {
	if p.after != nil {
		return p.after.Subject
	}
	return p.before.Subject
}

// says names the quantity in a sentence.
func (p *pair) says() string {
	switch p.check {
	case "zero":
		return "the zero of " + p.subject() + " " + p.channel
	case "weight":
		return "the weight that " + p.subject() + " shows"
	case "axes":
		return "the inequality of the radial axes of " + p.subject()
	case "drag":
		return "the drag of " + p.subject()
	case "angle-offset":
		return "the angle offset of " + p.subject()
	case "clearance":
		return "the clearance of " + p.subject()
	case "camber":
		return "the camber of " + p.subject() + " against its own heights"
	}
	return p.check + " of " + p.subject()
}

// pairing finds for each quantity of one test the same one of the other.
type pairing struct {
	before, after side
	pairs         []pair
	swapped       []string // transducers that changed their place, as sentences
	replaced      []string
	unknown       []string // corners of which a serial number is missing
}

func (p *pairing) pair() {
	taken := map[*daemon.Finding]bool{}
	for i := range p.before.result.Findings {
		f := &p.before.result.Findings[i]
		q, ok := quantityOf(f.Check)
		if !ok {
			continue
		}
		one := pair{quantity: q, channel: f.Channel, before: f, was: p.before.transducers[f.Subject]}
		p.find(&one)
		if one.after != nil {
			taken[one.after] = true
		}
		p.keep(one)
	}
	for i := range p.after.result.Findings {
		f := &p.after.result.Findings[i]
		q, ok := quantityOf(f.Check)
		if !ok || taken[f] {
			continue
		}
		one := pair{quantity: q, channel: f.Channel, after: f, is: p.after.transducers[f.Subject]}
		if q.belongs == toTransducer {
			if one.serial = p.after.serial(f.Subject); one.serial != nil && p.before.bySerial[*one.serial] == nil {
				one.why = "the transducer " + number(*one.serial) + ", now at " + f.Subject + ", was not in the first test"
			}
		}
		p.keep(one)
	}
}

// keep takes a pair unless nothing is fitted in either test.
func (p *pairing) keep(one pair) {
	absent := func(f *daemon.Finding) bool { return f == nil || f.Verdict == checks.Absent && f.Value == nil }
	if !absent(one.before) || !absent(one.after) {
		p.pairs = append(p.pairs, one)
	}
}

// find fills in the second test.
func (p *pairing) find(one *pair) {
	corner := one.before.Subject
	if one.belongs == toTransducer {
		serial, now := p.before.serial(corner), p.after.serial(corner)
		switch {
		case serial == nil || now == nil && p.after.bySerial[*serial] == nil:
			note(&p.unknown, corner)
			one.serial = serial
		case p.after.bySerial[*serial] == nil:
			note(&p.replaced, "At "+corner+" the transducer "+number(*serial)+" sat before, after it "+number(*now)+": what belongs to a transducer cannot be compared there.")
			one.serial = serial
			one.why = "another transducer sits at " + corner + " now: " + number(*now) + ", before it was " + number(*serial)
			one.next = "Look with plumbline history where " + number(*serial) + " is now."
			return
		default:
			one.serial = serial
			if at := p.after.bySerial[*serial].Corner; at != corner {
				note(&p.swapped, "The transducer "+number(*serial)+" moved from "+corner+" to "+at+": its zero and its axes are compared by its number, drag and other properties of the wheel by the corner.")
				corner = at
			}
		}
	}
	one.after = p.after.result.Finding(one.check, corner, one.channel)
	one.is = p.after.transducers[corner]
	p.barred(one)
}

// barred says where the two are not the same thing.
func (p *pairing) barred(one *pair) {
	vehicles := p.before.result.Setup.Vehicle != p.after.result.Setup.Vehicle
	moved := one.was != nil && one.is != nil && one.was.Corner != one.is.Corner
	switch {
	case one.after == nil:
	case one.belongs != toTransducer && vehicles:
		one.why = one.says() + " was that of another vehicle"
	case one.belongs == toTransducer && vehicles && one.serial == nil:
		one.why = "another vehicle, and no serial number that tells whether the transducer of " + one.subject() + " is the same"
		one.next = "Write the serial numbers into both setups."
	case one.check == "weight" && (moved || vehicles):
		one.why = "the transducer " + number(*one.serial) + " carries another wheel now, at " + one.subject() + ": what it weighs tells nothing of its scale"
	case one.mirrored && moved && one.was.Side != one.is.Side && one.was.Side != "" && one.is.Side != "":
		one.why = "the transducer " + number(*one.serial) + " sits on the other side of the vehicle, mounted mirrored: whether the signs of its channels turn with it is a setting of the amplifier"
		one.next = "Compare it with a test on the same side."
	}
}

func note(list *[]string, text string) {
	if !slices.Contains(*list, text) {
		*list = append(*list, text)
	}
}

func number(n uint64) string { return strconv.FormatUint(n, 10) }
