package compare

import (
	"math"
	"strconv"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// remarks says what differs between the tests beside their values, as whole sentences.
func (p *pairing) remarks(before, after *daemon.Result) []string {
	out := []string{}
	add := func(text string) { out = append(out, text) }
	if a, b := before.Setup.Vehicle, after.Setup.Vehicle; a != b {
		add("The tests are of two vehicles, " + a + " and " + b + ": only transducers whose serial numbers are known are compared.")
	}
	if a, b := before.Setup.SHA256, after.Setup.SHA256; a != b {
		add("The tests were judged by two setups (SHA-256 " + short(a) + " and " + short(b) + "): limits, factors and signs may differ. The limits are those of the second.")
	}
	if before.Program != after.Program {
		add("The results are by " + before.Program + " and " + after.Program + ".")
	}
	_, end := before.Span()
	start, last := after.Span()
	switch first, _ := before.Span(); {
	case start == 0 || end == 0:
		add("The time of a test is not known.")
	case first == start && end == last:
		add("Both tests begin and end at the same moment: they may be the same one.")
	case last <= first:
		add("The second test is the earlier one: changes are the wrong way round.")
	case start < end:
		add("The tests overlap in time.")
	}
	for _, r := range []struct {
		name   string
		result *daemon.Result
	}{{"first", before}, {"second", after}} {
		n := 0
		for i := range r.result.Captures {
			n += len(r.result.Captures[i].Warnings)
		}
		if n > 0 {
			add("The recording of the " + r.name + " test has " + plural(n, "warning", "warnings") + ": see its result.")
		}
		for i := range r.result.Findings {
			if f := &r.result.Findings[i]; f.Verdict == checks.Fail && (f.Check == "placement" || f.Check == "identity") {
				add("In the " + r.name + " test: " + f.Sentence + ".")
			}
		}
	}
	out = append(out, p.swapped...)
	out = append(out, p.replaced...)
	if len(p.unknown) > 0 {
		add("The serial number of " + strings.Join(p.unknown, ", ") + " is not known in both tests: taken as the same transducer in its place.")
	}
	for _, s := range []*side{&p.before, &p.after} {
		for _, n := range s.doubled {
			text := "The serial number " + number(n) + " stands at several corners of one test: there the corner is taken for the transducer."
			note(&out, text)
		}
	}
	return append(append(out, p.setups()...), p.temperatures()...)
}

// setups says what was written otherwise about the same corner.
func (p *pairing) setups() []string {
	var out []string
	if len(p.before.transducers) == 0 || len(p.after.transducers) == 0 {
		return nil // a result of an earlier version says nothing of its corners
	}
	for i := range p.before.result.Transducers {
		a := &p.before.result.Transducers[i]
		b := p.after.transducers[a.Corner]
		if b == nil {
			out = append(out, "The second test has no corner "+a.Corner+".")
			continue
		}
		if a.WheelMassKg != b.WheelMassKg && a.WheelMassKg > 0 && b.WheelMassKg > 0 {
			out = append(out, "The setups give the wheel of "+a.Corner+" masses of "+kg(a.WheelMassKg)+" and "+kg(b.WheelMassKg)+
				" kg: what it weighed is compared, as of one wheel; if it is another wheel now, its weight tells nothing.")
		}
		if a.AngleCounts != b.AngleCounts {
			out = append(out, "The setups give the encoder of "+a.Corner+" "+strconv.Itoa(a.AngleCounts)+" and "+strconv.Itoa(b.AngleCounts)+" counts.")
		}
		if a.Forces != b.Forces {
			out = append(out, "The forces of "+a.Corner+" were sent "+a.Forces+" and "+b.Forces+".")
		}
	}
	for i := range p.after.result.Transducers {
		if b := &p.after.result.Transducers[i]; p.before.transducers[b.Corner] == nil {
			out = append(out, "The first test has no corner "+b.Corner+".")
		}
	}
	return out
}

// temperatures says whose electronics were warmer or colder in the second test: a zero moves with them.
func (p *pairing) temperatures() []string {
	var parts []string
	for i := range p.before.result.Transducers {
		was := &p.before.result.Transducers[i]
		is := p.after.transducers[was.Corner]
		k, ok := warmer(was, is)
		if !ok {
			continue
		}
		way := "warmer"
		if k < 0 {
			way = "colder"
		}
		parts = append(parts, was.Corner+" "+strconv.FormatFloat(math.Abs(k), 'f', 0, 64)+" °C "+way)
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{"The temperature of the electronics was another in the second test (" + strings.Join(parts, ", ") +
		"): turned again at the temperature of the first, the wheel tells what heat did from what stays."}
}

func short(sum string) string {
	const digits = 12
	if sum == "" {
		return "not known"
	}
	return sum[:min(len(sum), digits)]
}

func kg(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
