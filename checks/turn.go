package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// kept is how many of the newest revolutions are kept per direction.
const kept = 64

// Revolution is one whole turn of a lifted wheel, solved: each component fitted
// on [1, cos θ, sin θ] with the transmitted angle (the three-parameter sine fit
// of IEEE Std 1057 with the angle in place of ωt).
type Revolution struct {
	From, To int64   // ns
	Dir      int8    // +1 forward, −1 back
	Run      int32   // those without a pause between them share a run
	Number   float64 // signed count of revolutions within the run
	Omega    float64 // mean speed, rad/s, signed
	Samples  int64   // of the radial force

	Have     uint8               // bit q: component q was fitted
	Constant [components]float64 // term that does not turn, N or N·m
	Residual [components]float64 // RMS
	Plus     complex128          // force, positive sequence: turns with exp(+iθ), N
	Minus    complex128          // force, negative sequence, N
	Drag     complex128          // once-per-turn part of my, cosine + i·sine, N·m
}

// Turn gathers the sums of the revolution under way and keeps the finished ones.
// It belongs to the forces and the angle of one corner.
type Turn struct {
	Forward, Back []Revolution // newest last, kept at the most
	Done          [2]int64     // finished revolutions ever: forward, back

	sectors sectors
	trace   trace
	model   model

	lap    lap
	gram   [components]fit.Gram // by group
	sums   [components]fit.Moments
	have   uint8
	fresh  uint8 // components that changed
	fixed  bool  // the forces were sent in fixed axes
	group  [components]uint8
	number float64
	run    int32
	from   int64 // ns, when the revolution under way began
}

func (t *Turn) clear(at int64) {
	t.from = at
	t.gram = [components]fit.Gram{}
	t.sums = [components]fit.Moments{}
	t.have, t.fresh = 0, 0
}

// add takes a row in rotating axes at the unwrapped angle theta with its cosine and sine.
func (t *Turn) add(r *Row, theta, cos, sin float64, moving bool) {
	switch t.lap.add(r.At, theta, moving) {
	case lapOff:
		t.sectors.end()
		return
	case lapBegun:
		t.clear(r.At)
		t.sectors.begin(theta, t.lap.run)
	case lapDone:
		t.finish(r.At)
		t.clear(r.At)
	case lapGoes:
	}
	t.gram[r.Group].Add(cos, sin)
	for q := range components {
		if r.Have&(1<<q) != 0 {
			t.sums[q].Add(r.V[q], cos, sin)
			t.group[q] = r.Group
		}
	}
	t.have |= r.Have
	t.fresh |= r.New
}

// radial takes both radial forces, N, of the row that was added before it.
func (t *Turn) radial(fx, fz, theta, cos, sin float64) {
	if t.lap.on {
		t.sectors.add(fx, fz, theta, cos, sin, t.lap.run)
		t.trace.add(fx, fz, theta)
	}
}

// stop ends the revolution under way without keeping it.
func (t *Turn) stop() {
	if !t.lap.on {
		return
	}
	t.lap.on = false
	t.sectors.end()
}

// model is what the radial force did in the last whole turn: the next one is compared with it.
type model struct {
	mean, cosine, sine float64 // N
	scatter            float64 // N, RMS
	known              bool
}

func (m *model) fz(cos, sin float64) float64 {
	return m.mean + float64(m.cosine*cos) + float64(m.sine*sin)
}

// abort ends it because the angle has broken off: the quarter under way is void as well.
func (t *Turn) abort() {
	t.lap.on = false
	t.sectors.now = Sector{}
	t.model.known = false
}

// finish solves the revolution that ended at the time at.
func (t *Turn) finish(at int64) {
	r := Revolution{From: t.from, To: at, Dir: t.lap.dir, Run: t.lap.run}
	var sine [components]fit.Sine
	for q := range components {
		if t.have&(1<<q) == 0 {
			continue
		}
		if t.fixed && (q == int(Fx) || q == int(Fz)) && t.fresh&(1<<q) == 0 {
			continue // a value that stands still in fixed axes would look like a weight that hangs
		}
		f, ok := t.gram[t.group[q]].Solve(&t.sums[q])
		if !ok {
			continue
		}
		sine[q] = f
		r.Constant[q], r.Residual[q] = f.Mean, f.ResidualSD
		r.Have |= 1 << q
	}
	if r.Have == 0 {
		return
	}
	if r.Run != t.run {
		t.run, t.number = r.Run, 0
	}
	t.number += float64(r.Dir)
	r.Number = t.number
	if s := float64(at-r.From) * 1e-9; s > 0 {
		r.Omega = float64(r.Dir) * 2 * math.Pi / s
	}
	if r.Have&(1<<Fx|1<<Fz) == 1<<Fx|1<<Fz {
		_, r.Plus, r.Minus = fit.Sequences(sine[Fx], sine[Fz])
		r.Samples = sine[Fz].N
	}
	if r.Have&(1<<My) != 0 {
		r.Drag = complex(sine[My].Cos, sine[My].Sin)
	}
	if z := sine[Fz]; r.Have&(1<<Fz) != 0 {
		t.model = model{z.Mean, z.Cos, z.Sin, z.ResidualSD, true}
	}
	side := 0
	list := &t.Forward
	if r.Dir < 0 {
		side, list = 1, &t.Back
	}
	t.Done[side]++
	if len(*list) == kept {
		copy(*list, (*list)[1:])
		*list = (*list)[:kept-1]
	}
	*list = append(*list, r)
}

// all returns the kept revolutions of both directions, forward first.
func (t *Turn) all() []Revolution {
	out := make([]Revolution, 0, len(t.Forward)+len(t.Back))
	return append(append(out, t.Forward...), t.Back...)
}

// progress returns how many revolutions have been done in a direction, counting the one under way.
func (t *Turn) progress(dir int8) float64 {
	n := float64(t.Done[0])
	if dir < 0 {
		n = float64(t.Done[1])
	}
	if part, d := t.lap.part(); d == dir {
		n += part
	}
	return n
}

// Answer tells how the radial forces of one corner answer to the angle of another.
type Answer struct {
	Revolutions int64
	Plus, Minus float64 // mean size of the part turning with and against the angle, N

	lap    lap
	gram   fit.Gram
	fx, fz fit.Moments
}

// add takes radial forces in rotating axes with the cosine and sine of the other corner's angle.
func (a *Answer) add(at int64, fx, fz, theta, cos, sin float64, moving bool) {
	switch a.lap.add(at, theta, moving) {
	case lapOff:
		return
	case lapDone:
		a.finish()
		fallthrough
	case lapBegun:
		a.gram, a.fx, a.fz = fit.Gram{}, fit.Moments{}, fit.Moments{}
	case lapGoes:
	}
	a.gram.Add(cos, sin)
	a.fx.Add(fx, cos, sin)
	a.fz.Add(fz, cos, sin)
}

func (a *Answer) finish() {
	x, okX := a.gram.Solve(&a.fx)
	z, okZ := a.gram.Solve(&a.fz)
	if !okX || !okZ {
		return
	}
	_, plus, minus := fit.Sequences(x, z)
	a.Revolutions++
	n := float64(min(a.Revolutions, 8)) // the newest eight count
	a.Plus += (cmplx.Abs(plus) - a.Plus) / n
	a.Minus += (cmplx.Abs(minus) - a.Minus) / n
}
