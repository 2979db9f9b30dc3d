package checks

import "math"

// How rate and temperature are followed; common practice.
const (
	paceNs       = 10e9 // ns of a piece
	paceFrames   = 40   // frames in a piece at the least
	paceBase     = 12   // pieces at the start
	paceWindow   = 6    // in each later window
	warmthBase   = 12
	warmthWindow = 6
)

// pace follows how often a message comes, in pieces of ten seconds. Longer silences are alive's
// and not counted: an amplifier that starts anew does not lose rate.
type pace struct {
	Rate  trend // of −ln of the frames per second: a rise is a loss
	count int64 // frames at the beginning of the piece
	last  int64 // ns, of the newest of them
	away  int64 // ns of long silence in the piece, without one period of each
}

func (p *pace) configure(l *Limits) {
	p.Rate = trend{base: paceBase, window: paceWindow, limit: -math.Log(1 - math.Min(l.DriftRateRatio, 0.999)), rise: true}
}

// silence notes a gap, ns, in a message of some period, s.
func (p *pace) silence(gap int64, period float64) { p.away += gap - int64(period*1e9) }

// look ends the piece where it is long enough.
func (p *pace) look(t *Timing) {
	if p.count == 0 {
		p.count, p.last, p.away = t.Count, t.Last, 0
		return
	}
	n, took := t.Count-p.count, t.Last-p.last-p.away
	if n < paceFrames || took < paceNs*9/10 {
		return
	}
	p.Rate.add(-math.Log(float64(n)/(float64(took)*1e-9)), p.last, t.Last)
	p.count, p.last, p.away = t.Count, t.Last, 0
}

// warmth follows a temperature, a value every ten seconds, °C.
type warmth struct {
	Warm trend
	seen int64 // values that had come
	at   int64 // ns, when it was asked last
}

// paces is called now and then: it looks at rates, temperatures and standstills.
func (j *Judge) paces(at int64) {
	j.steering.look(at, j.corners)
	for i := range j.corners {
		c := &j.corners[i]
		c.still.read(c)
		c.bunching.curves.look(at, &c.bunching.rolled, j.steering.way(), j.steering.known)
	}
	rolling := len(j.corners) > 0 && j.corners[0].movement == rolls
	if rolling && !j.rolled {
		j.departed(j.settled)
	}
	// A wheel that was let down stands with a strain in its tyre until it has rolled.
	j.settled = (j.settled || rolling) && !j.ground.lifted
	j.rolled = rolling
	if at < j.paceNext && at >= j.paceNext-paceNs {
		return
	}
	j.paceNext = at + paceNs
	for i := range j.messages {
		j.messages[i].pace.look(&j.messages[i].timing)
	}
	for i := range j.corners {
		c := &j.corners[i]
		if ch := c.setup.Channels[Temperature]; ch != None {
			c.warmth.look(at, &j.channels[ch])
		}
	}
}

func (w *warmth) look(at int64, ch *channel) {
	l := &ch.level
	from := w.at
	w.at = at
	if l.Count == w.seen {
		return
	}
	w.seen = l.Count
	for i := range ch.watch.named {
		if ch.watch.is(l.Last, ch.watch.named[i].Value) {
			return
		}
	}
	if from == 0 {
		from = at
	}
	w.Warm.add(l.Last, from, at)
}

// rateLost judges the message of a subject that has lost most of its rate.
func (v *view) rateLost(name string, chs *Channels) Finding {
	limit := v.setup.Limits.DriftRateRatio
	f := Finding{Subject: name, Channel: "rate", Limit: known(limit)}
	worst, fitted, pieces := -1, false, int64(0)
	for _, ch := range chs {
		if ch == None {
			continue
		}
		fitted = true
		m := v.setup.Channels[ch].Message
		p := &v.messages[m].pace.Rate
		pieces = max(pieces, p.Base.N()+p.Window.N())
		if p.Windows > 0 && (worst < 0 || p.worse(&v.messages[worst].pace.Rate)) {
			worst = m
		}
	}
	if !fitted {
		f.Verdict, f.Sentence = Absent, name+" has no channels"
		return f
	}
	if worst < 0 {
		f.Sentence = "the rate of " + name + " has been followed for " + num(float64(pieces)*paceNs*1e-9, 0) + " s; " + num((paceBase+paceWindow)*paceNs*1e-9, 0) + " s are the least to see it sink"
		return f
	}
	p := &v.messages[worst].pace.Rate
	message := v.setup.Messages[worst].Name
	f.Evidence = p.evidence()
	lost := func(x float64) float64 { return 1 - math.Exp(-x) }
	now, u := lost(p.Now), math.Exp(-p.Now)*p.NowU
	const least = 1e5 // a frame in a quarter of an hour
	f.Value, f.Uncertainty = known(math.Round(now*least)/least), known(math.Ceil(u*least)/least)
	reads := message + " comes " + within(100*now, 100*u, "%") + " less often than in the first minutes"
	if now < 0 {
		reads = message + " comes " + within(-100*now, 100*u, "%") + " more often than in the first minutes"
	}
	f.Verdict = p.judge()
	switch {
	case p.Over:
		f.Sentence = reads + ", beyond " + show(limit, "percent") + " since " + v.since(p.Since)
		f.Next = "Look at the cable, the plugs and the pick-up of " + name + ", and at the load of the bus."
	case f.Verdict == Fail:
		f.Value, f.Uncertainty = known(lost(p.Worst)), Number{}
		f.Sentence = message + " came up to " + show(lost(p.Worst), "percent") + " less often than in the first minutes from " + v.since(p.Since) + " and came back " + v.since(p.Back)
		f.Next = "Look at the cable, the plugs and the pick-up of " + name + "; values are missing in between."
	case f.Verdict == Pass:
		f.Sentence = reads
	default:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "percent") + " to decide"
	}
	return f
}

// warmed judges how far the temperature of a corner's electronics has gone from where it was.
func (v *view) warmed(i int) Finding {
	c := &v.corners[i]
	name := c.setup.Name
	p := &c.warmth.Warm
	f := Finding{Subject: name, Channel: Temperature.String(), Unit: "K", Limit: known(p.limit), Evidence: p.evidence()}
	switch {
	case c.setup.Channels[Temperature] == None:
		f.Verdict, f.Sentence = Absent, name+" has no channel for its temperature"
	case p.Windows == 0:
		f.Sentence = "the temperature of " + name + " has been followed for " + num(float64(p.Base.N()+p.Window.N())*paceNs*1e-9, 0) + " s; " + num((warmthBase+warmthWindow)*paceNs*1e-9, 0) + " s are the least"
	default:
		v.moved(&f, p, "the temperature of "+name,
			"Let "+name+" cool down and compare its zero with the one before: strain gauges are made good for their temperature over a part of its range only.",
			"Compare the zero of "+name+" with the one before the drive; look for what heated or cooled it.")
	}
	return f
}
