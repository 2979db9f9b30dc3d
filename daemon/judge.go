package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"plumbline/bus"
	"plumbline/checks"
)

// errOtherNames says that a capture holds more interfaces than the one that was
// taken for a source of another name.
var errOtherNames = errors.New("interface taken for another is not the only one")

// Judge judges what one source delivers. It belongs to one goroutine.
type Judge struct {
	bench *Bench
	file  string
	judge *checks.Judge
	match match
	clock clock

	// Grid is called, where it is set, after each grid point of event time, ns:
	// the moment to look at Result while a run is under way.
	Grid func(at int64)

	alone    bool        // reading and judging on one goroutine
	rates    [][2]uint32 // by source: nominal and data bit rate, bit/s; 0: not known
	rated    bool        // some are known: only then are frames looked at themselves
	frames   uint64
	used     uint64   // frames of an interface that a source wants
	received []uint64 // the same, by source
	meter    *meter   // nil: nobody asks what judging costs
	warnings []string
	more     uint64 // warnings beyond bus.MaxWarnings
	unusable string // a sentence; empty: nothing is known against it
}

// Judge returns a judge for one source. file is what results call it.
func (b *Bench) Judge(file string) *Judge {
	return &Judge{
		bench: b, file: strings.ToValidUTF8(file, "\ufffd"),
		judge: checks.New(b.setup.Checks),
		match: newMatch(file, b.setup.Sources, false),
		rates: make([][2]uint32, len(b.setup.Sources)), received: make([]uint64, len(b.setup.Sources)),
	}
}

// Run judges what src delivers until its end, which is no error, or until ctx is
// done, whose error it then returns. Any other error is that of the source; what
// was heard before it has been judged, and Result says so. Run closes src and has
// joined what it started when it returns.
func (j *Judge) Run(ctx context.Context, src bus.Source) error {
	j.meter.hears(src)
	take := pump
	if j.alone {
		take = pull
	}
	err := take(ctx, src, newDecoder(j.bench, j.file, j.match.strict).decode, j.batch)
	j.end(ctx, err)
	return err
}

// end takes note of how a source has ended.
func (j *Judge) end(ctx context.Context, err error) {
	switch {
	case err == nil:
		j.unusable = j.whyUnusable()
	case ctx.Err() == nil && !errors.Is(err, errOtherNames):
		j.unusable = fmt.Sprintf("%s: reading ended after %s: %v", j.file, frames(j.frames), err)
	}
}

// batch judges one batch that was decoded.
func (j *Judge) batch(d *delivered) error {
	if !j.match.meet(d.names) {
		return errOtherNames
	}
	b, next, from := &d.batch, 0, 0
	for i := range d.lines {
		for ; next < len(b.Notes) && b.Notes[next].Before <= i; next++ {
			j.note(&b.Notes[next])
		}
		l := &d.lines[i]
		j.frame(l, &b.Frames[i], d.samples[from:from+int(l.samples)])
		from += int(l.samples)
	}
	for ; next < len(b.Notes); next++ {
		j.note(&b.Notes[next])
	}
	for source, n := range d.received {
		j.received[source] += uint64(n)
	}
	first := -1
	if len(d.lines) > 0 && d.lines[0].kind != foreign {
		first = int(b.Frames[0].Source)
	}
	j.meter.judged(b, first)
	return nil
}

func (j *Judge) frame(l *line, f *bus.Frame, samples []checks.Sample) {
	j.frames++
	if !j.clock.goesOn(l.at) {
		j.clock.frame(l.at, j.frames, j.tick)
	}
	if l.kind == foreign {
		if int(f.Source) < len(j.match.left) {
			j.match.left[f.Source]++
		}
		return
	}
	j.used++
	if j.rated {
		if r := j.rates[f.Source]; r[0] > 0 {
			j.judge.Busy(l.at, int(f.Source), busyNs(f, r))
		}
	}
	if l.message >= 0 {
		j.judge.Message(l.at, int(l.message), int(l.length), l.kind == short, samples)
		return
	}
	switch source := int(f.Source); {
	case f.Flags.Has(bus.Error):
		j.judge.ErrorFrame(l.at, source, f.ID)
	case len(j.bench.setup.Sources) > 1:
		j.stranger(f, source)
	}
}

// source returns the setup's number of a source of the capture, -1 for none.
func (j *Judge) source(s uint16) int {
	if int(s) >= len(j.match.to) {
		return -1
	}
	return j.match.to[s]
}

// stranger looks whether a message that its source does not know belongs to another one.
func (j *Judge) stranger(f *bus.Frame, source int) {
	for of := range j.bench.setup.Sources {
		if f.Source = uint16(of); of != source && j.bench.plan.Lookup(f) >= 0 {
			j.judge.Stranger(f.At, source, of)
			break
		}
	}
	f.Source = uint16(source)
}

func (j *Judge) tick(at int64) {
	j.judge.Advance(at)
	j.judge.Follow(at)
	if j.Grid != nil {
		j.Grid(at)
	}
}

func (j *Judge) note(n *bus.Note) {
	switch n.Kind {
	case bus.Mark:
		j.judge.Mark(n.At, n.Text)
	case bus.Loss:
		if source := j.source(n.Source); source >= 0 {
			j.judge.Loss(n.At, source, placeOf(n.Place), n.Count)
		}
	case bus.LinkChanged:
		if source := j.source(n.Source); source >= 0 {
			j.judge.Link(n.At, source, linkOf(n.Link), n.Text)
			if n.BitRate > 0 {
				j.rates[source], j.rated = [2]uint32{n.BitRate, n.DataBitRate}, true
			}
		}
	case bus.Garbage:
		if source := j.source(n.Source); source >= 0 {
			j.judge.Garbage(n.At, source, n.Count, n.Text)
		}
	case bus.Tick:
		if j.clock.started {
			j.clock.idle(n.At, j.tick)
		} else {
			j.tick(n.At)
		}
	case bus.Clock:
		j.warn(n.Text)
		if j.judge.ClockSet(n.Step) && j.clock.started {
			j.clock.set(n.Step, n.At)
		}
	case bus.Warning:
		j.warn(n.Text)
	case bus.Told: // what was judged then is judged anew
	case bus.BothClocks: // for who compares with other recordings; event time is judged
	}
}

func (j *Judge) warn(text string) {
	if len(j.warnings) == bus.MaxWarnings {
		j.more++
		return
	}
	j.warnings = append(j.warnings, text)
}

// Result returns what is known by now, its times by the clock as it was set last. It may be asked while a
// run is under way, from Grid. After a run, a capture of which no frame could be used has no
// findings, only a warning that says why.
func (j *Judge) Result() Result {
	r := j.result()
	r.byClock(j.judge.Ahead())
	return r
}

// result is Result in event time.
func (j *Judge) result() Result {
	r := j.bench.result(Capture{
		File: j.file, Frames: j.frames, First: Instant(j.clock.first), Last: Instant(j.clock.last),
		Warnings: j.allWarnings(), Unusable: j.unusable,
	})
	if j.used == 0 && j.unusable != "" {
		return r // a list of all that could not be judged would hide why
	}
	r.fill(j.judge.Result())
	return r
}

// KeepWindows has Now tell the newest seconds of each channel as well; for who looks while it happens.
func (j *Judge) KeepWindows() { j.judge.KeepWindows() }

// Now returns what the sensors show now. It may be asked while a run is under way, from Grid.
func (j *Judge) Now() checks.Now { return j.judge.Now() }

// allWarnings returns the source's warnings, then those about clock and
// interfaces, then what makes the capture unusable.
func (j *Judge) allWarnings() []string {
	out := append([]string{}, j.warnings...)
	if j.more > 0 {
		out = append(out, fmt.Sprintf("%s: %d more warnings", j.file, j.more))
	}
	for _, w := range j.clock.warnings() {
		out = append(out, j.file+": "+w)
	}
	out = append(out, j.match.warnings()...)
	out = append(out, j.bench.retimed()...)
	if j.unusable != "" {
		out = append(out, j.unusable)
	}
	for i := range out { // lines of broken recordings are quoted in them
		out[i] = strings.ToValidUTF8(out[i], "\ufffd")
	}
	return out
}

// whyUnusable says what is wrong with a capture that was read to its end; empty
// where it could be judged.
func (j *Judge) whyUnusable() string {
	switch why := j.match.unusable(); {
	case j.frames == 0:
		return j.file + " holds no frame: expected a recording of the running amplifier"
	case j.used == 0 && why != "":
		return why
	case j.used == 0:
		return j.file + ": none of its frames is of an interface that the setup names"
	}
	return ""
}
