package checks

import "math"

// What tells a drive from what is done in the yard; common practice. A vehicle that is pushed, or rolled over the
// workshop floor for its function test, is slower or done sooner.
const (
	driveMps    = 3.0   // faster than a vehicle is pushed
	driveNs     = 20e9  // for so long
	driveLullNs = 2e9   // a wheel that leaves the ground, or a gap in the frames, does not end that
	parkNs      = 300e9 // standing for so long ends a drive: no traffic light does
	hoistNs     = 3e9   // a wheel that hangs for so long ends it: no bump does
	keptDrives  = 50    // newest
	plainM      = 0.3   // rolling radius where no tyre is known, m
)

// Drive is a stretch of driving. Times are event time, ns.
type Drive struct {
	From int64 // when it began to roll
	To   int64 // when it last rolled
	Now  bool  // it is under way
}

// driving recognises drives from the signals.
type driving struct {
	radii  []float64 // by corner, m
	drives []Drive   // the last one may be under way
	fast   int64     // ns, since when it has been faster than driveMps; 0: it is not
	fastTo int64
	rolled int64 // ns, when it last rolled
	hung   int64 // ns, since when a wheel has been hanging; 0: none
}

func newDriving(s *Setup) driving {
	d := driving{radii: nominalRadii(s.Corners)}
	for i := range d.radii {
		if d.radii[i] <= 0 {
			d.radii[i] = plainM
		}
	}
	return d
}

// now returns the drive that is under way; nil: none.
func (d *driving) now() *Drive {
	if n := len(d.drives); n > 0 && d.drives[n-1].Now {
		return &d.drives[n-1]
	}
	return nil
}

// drive takes a look at the vehicle; g is what it shows.
func (j *Judge) drive(at int64) {
	d, g := &j.driving, &j.ground
	switch {
	case !g.lifted:
		d.hung = 0
	case d.hung == 0 || at < d.hung:
		d.hung = at
	}
	if g.rolling {
		d.rolled = at
		if c := d.now(); c != nil {
			c.To = at
		}
	}
	if g.rolling && j.faster(at) {
		if d.fast == 0 || at-d.fastTo > driveLullNs || at < d.fastTo {
			d.fast = at
		}
		d.fastTo = at
	}
	d.settle(at)
	if d.now() != nil || d.hung != 0 || d.fast == 0 || d.fastTo != at || at-d.fast < driveNs {
		return
	}
	if len(d.drives) == keptDrives {
		d.drives = append(d.drives[:0], d.drives[1:]...)
	}
	d.drives = append(d.drives, Drive{From: d.fast, To: at, Now: true})
}

// settle ends a drive that is over.
func (d *driving) settle(at int64) {
	c := d.now()
	if c == nil {
		return
	}
	if at-d.rolled > parkNs || d.hung != 0 && at-d.hung > hoistNs {
		c.Now, d.fast = false, 0
	}
}

// faster tells whether some wheel on the ground, or a ground speed sensor, is faster than what happens in a yard.
func (j *Judge) faster(at int64) bool {
	for i := range j.corners {
		c := &j.corners[i]
		if c.condition.hang == Lifted {
			continue
		}
		f := &j.ground.feet[i]
		if f.angle.fresh(at) && c.encoder.moving && math.Abs(c.encoder.Omega)*j.driving.radii[i] > driveMps {
			return true
		}
		if f.spin.fresh(at) && math.Abs(c.spin)*j.driving.radii[i] > driveMps {
			return true
		}
	}
	for i := range j.optics {
		o := &j.optics[i]
		if ch := o.setup.Channels[SpeedX]; ch != None && o.spoke && j.messages[j.setup.Channels[ch].Message].timing.fresh(at) && math.Abs(o.last[SpeedX-HeightOuter]) > driveMps {
			return true
		}
	}
	return false
}
