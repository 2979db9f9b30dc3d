package checks

import (
	"math"

	"plumbline/checks/fit"
)

// slipFromMps is the speed from which a slip angle is judged, m/s; common practice.
const slipFromMps = 1

// slip: is each ground speed sensor mounted straight, and does its own slip signal say what
// its speeds say? atan2(vy, vx) on straight rolls is the mounting angle; what the
// sensor shows at rest is taken off. Forward is where the wheels roll.
func slip(v *view) []Finding {
	var out []Finding
	for k := range v.rolls.optics {
		out = append(out, v.mountOf(k))
	}
	return out
}

// heading tells which way the wheels rolled in a window: +1 forward, −1 back, 0 one wheel alone or none cannot tell.
func (v *view) heading(row []float64) float64 {
	up, down := 0, 0
	for i := range v.corners {
		count(&up, row[1+i] > 0)
		count(&down, row[1+i] < 0)
	}
	switch {
	case up+down < 2 || up == down:
		return 0
	case up > down:
		return 1
	}
	return -1
}

// mounted is the mounting angle of a ground speed sensor.
type mounted struct {
	angle float64     // rad
	about fit.Welford // the angle of each window about it, rad
	own   fit.Welford // its own slip signal minus the angle of its speeds, rad
}

func (v *view) mount(k int) mounted {
	var m mounted
	set := v.optics[v.rolls.optics[k]].setup
	at := 1 + v.rolls.corners + 3*k
	var vectors [][2]float64
	var sumX, sumY float64
	for _, row := range v.straight.rows {
		x, y := v.speeds(row, k)
		own := row[at+2]
		if set.Channels[SpeedY] == None && math.Abs(own) < 1.5 {
			y = x * math.Tan(own)
		}
		size := math.Sqrt(float64(x*x) + float64(y*y))
		if !(size >= slipFromMps) {
			continue
		}
		if raw := row[at+1]; own-own == 0 && raw-raw == 0 && row[at] > 0 {
			m.own.Add(own - math.Atan2(raw, row[at]))
		}
		if way := v.heading(row); way < 0 || way == 0 && x < 0 {
			x, y = -x, -y
		}
		vectors = append(vectors, [2]float64{x, y})
		sumX += x / size
		sumY += y / size
	}
	m.angle = math.Atan2(sumY, sumX)
	for _, w := range vectors {
		m.about.Add(fit.Wrap(math.Atan2(w[1], w[0]) - m.angle))
	}
	return m
}

func (v *view) mountOf(k int) Finding {
	o := &v.optics[v.rolls.optics[k]]
	set, limit := o.setup, v.setup.Limits.SlipRad
	f := Finding{Subject: set.Name, Unit: "rad", Limit: known(limit)}
	if v.rolls.rows == nil || set.Channels[SpeedX] == None || set.Channels[SpeedY] == None && set.Channels[Slip] == None {
		f.Verdict, f.Sentence = Absent, set.Name+" has no speed sideways and no slip to be told by, or no wheel has an angle to see a roll by"
		return f
	}
	m := v.mount(k)
	f.Evidence = v.rollEvidence(m.about.N(), 0)
	if m.about.N() > 0 {
		f.Value = known(m.angle)
	}
	if m.about.N() < rollSeconds {
		f.Sentence = set.Name + " has rolled straight ahead at 1 m/s or more for " + plural(m.about.N(), "second", "seconds") + "; 3 are the least"
		f.Next = "Roll the vehicle straight ahead at a brisk walking pace or more for some seconds."
		return f
	}
	u := fit.Expanded(scatter(&m.about), fit.TypeB(fit.Rectangular(v.stepOf(o, SpeedX, SpeedY)/2)/slipFromMps))
	f.guard(m.angle, 0, u, limit)
	reads := set.Name + " sees the straight way " + within(m.angle, u, "rad") + " round"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
		v.ownSlip(&m, &f)
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, "rad")
		f.Next = "Turn " + set.Name + " by " + show(-m.angle, "rad") + " about its vertical axis, or trim its angle by that."
		if math.Abs(m.angle) > 0.9*math.Pi {
			f.Next = "Mount " + set.Name + " the other way round, or turn the sign of its speeds."
		}
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "rad") + " to decide"
		f.Next = "Roll on straight ahead at a steady speed."
	}
	return f
}

// ownSlip lets a sensor fail whose slip signal says something else than its speeds.
func (v *view) ownSlip(m *mounted, f *Finding) {
	if m.own.N() < rollSeconds {
		return
	}
	limit := v.setup.Limits.SlipRad
	u := fit.Expanded(scatter(&m.own))
	if fit.Guard(significant(m.own.Mean()), significant(u), significant(limit)) != fit.Beyond {
		return
	}
	f.guard(m.own.Mean(), 0, u, limit)
	f.Sentence = "the slip signal of " + f.Subject + " is " + within(m.own.Mean(), u, "rad") + " off the angle of its speeds, more than " + show(limit, "rad")
	f.Next = "Compare the slip of " + f.Subject + ", its sign and its offset with the description of the sensor."
}
