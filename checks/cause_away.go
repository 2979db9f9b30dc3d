package checks

import "math"

// away: all wheels of a source were silent at the same time, or are. One of them alone would be its plug. What
// something else explains better has been claimed before.
func (x *explainer) away() {
	for s := range x.setup.Sources {
		if l := x.buses[s].Link; l == LinkAbsent || l == LinkDown {
			continue // what the link says is known better, and has been said
		}
		var subjects []string
		from, to, all, quiet := int64(math.MinInt64), int64(math.MaxInt64), true, true
		for i := range x.setup.Messages {
			m := &x.messages[i]
			if x.setup.Messages[i].Source != s || len(m.corners) == 0 {
				continue
			}
			a, b := m.timing.First, m.timing.First
			switch allowed := m.timing.allowed(&x.setup.Limits); {
			case m.timing.Count == 0:
			case x.quiet(m):
				a, b = m.timing.Last, x.now
			case m.timing.Gap > allowed:
				a, b = m.timing.GapAt, m.timing.GapAt+int64(m.timing.Gap*1e9)
			}
			from, to = max(from, a), min(to, b)
			all, quiet = all && a < b, quiet && x.quiet(m)
			for _, k := range m.corners {
				if f := x.find("alive", x.name(k)); f != nil && f.Verdict == Fail && (len(subjects) == 0 || subjects[len(subjects)-1] != f.Subject) {
					subjects = append(subjects, f.Subject)
				}
			}
		}
		if !all || from >= to || len(subjects) < 2 {
			continue
		}
		c := Cause{
			ID: "amplifier-away:" + x.setup.Sources[s], Subjects: subjects,
			Sentence: "nothing came from any wheel for " + show(float64(to-from)*1e-9, "s") + ", " + x.since(from) + ": the amplifier began anew, or had no supply",
			Next:     "Look at the supply of the amplifier and at its plugs; what it measured before and after is told apart by that moment.",
		}
		if quiet {
			c.Sentence = "nothing has come from any wheel since " + x.since(from) + ": the amplifier is off, or its cable is out"
			c.Next = "See that the amplifier has supply and is switched on, then its cable."
		}
		x.add(c, []string{"alive"})
	}
}
