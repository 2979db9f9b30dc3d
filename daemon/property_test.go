package daemon

import (
	"bytes"
	"cmp"
	"errors"
	"flag"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon/setup"
)

// fewChecks lets rapid draw n examples of what takes long, where nobody asked for a number of them.
func fewChecks(t *testing.T, n string) {
	t.Helper()
	f := flag.Lookup("rapid.checks")
	if f.Value.String() != f.DefValue || os.Getenv("RAPID_CHECKS") != "" {
		return
	}
	if err := f.Value.Set(n); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Value.Set(f.DefValue) })
}

// anyVehicle draws a vehicle whose corners and sensors are heard on one to three buses, what is done with it, briefly, and what
// is wrong with it.
func anyVehicle(t *rapid.T) simulated.Config {
	c := simulated.Standard(rapid.SampledFrom([]int{1, 2, 4}).Draw(t, "corners"))
	c.Optics = c.Optics[:rapid.IntRange(0, len(c.Optics)).Draw(t, "optics")]
	c.RateHz = rapid.SampledFrom([]float64{20, 40}).Draw(t, "rate")
	c.Seed = rapid.Uint64Range(1, 1000).Draw(t, "seed")
	c.Marks = rapid.Bool().Draw(t, "marks")
	of := rapid.SampledFrom([]string{"can0", "can1", "vcan2"})
	for i := range c.Corners {
		c.Corners[i].Bus, c.Corners[i].Fixed = of.Draw(t, "bus"), rapid.Bool().Draw(t, "fixed")
	}
	for i := range c.Optics {
		c.Optics[i].Bus = of.Draw(t, "bus")
	}
	phase := func(kind simulated.PhaseKind, seconds float64) simulated.Phase {
		return simulated.Phase{Kind: kind, Seconds: seconds}
	}
	c.Script = []simulated.Phase{phase(simulated.Rest, 2), phase(simulated.Lift, 1), phase(simulated.Rest, 1)}
	for _, k := range c.Corners[:min(2, len(c.Corners))] {
		c.Script = append(c.Script, simulated.Phase{Kind: simulated.Turn, Corner: k.Name, Turns: 3.3})
	}
	c.Script = append(c.Script, phase(simulated.Lower, 1), phase(simulated.Rest, 2), simulated.Phase{Kind: simulated.Drive, SpeedMps: 3, Seconds: 3})
	for range rapid.IntRange(0, 2).Draw(t, "faults") {
		k := rapid.SampledFrom(simulated.Kinds()).Draw(t, "fault")
		f := simulated.Fault{Kind: k.Name, Value: k.Default}
		switch k.Subject {
		case simulated.TwoCorners:
			f.Corner = c.Corners[0].Name + "," + c.Corners[len(c.Corners)-1].Name
		case simulated.OneBus, simulated.OneRoad:
		default:
			f.Corner = rapid.SampledFrom(c.Corners).Draw(t, "of").Name
		}
		with := c
		with.Faults = append(slices.Clip(c.Faults), f)
		if _, err := simulated.New(with); err == nil { // else this vehicle cannot have it
			c = with
		}
	}
	return c
}

// benchOf is a bench of a setup whose DBC files are those of a vehicle.
func benchOf(t *rapid.T, text string, c *simulated.Config) *Bench {
	s, err := setup.Parse("vehicle.yaml", []byte(text), c.ReadFile)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBench(s, "plumbline (test)")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// hear returns all that a vehicle sends; Note.Before counts from the first frame.
func hear(t *rapid.T, c simulated.Config) (names []string, frames []bus.Frame, notes []bus.Note) {
	vehicle, err := simulated.New(c)
	if err != nil {
		t.Fatal(err)
	}
	var b bus.Batch
	for err = vehicle.Read(&b); err == nil; err = vehicle.Read(&b) {
		for _, n := range b.Notes {
			n.Before += len(frames)
			notes = append(notes, n)
		}
		frames = append(frames, b.Frames...)
	}
	if !errors.Is(err, io.EOF) {
		t.Fatal(err)
	}
	return slices.Clone(vehicle.Names()), frames, notes
}

func found(t *rapid.T, b *Bench, src bus.Source, alone bool) *Result {
	j := b.Judge("vehicle")
	j.alone = alone
	if err := j.Run(t.Context(), src); err != nil {
		t.Fatal(err)
	}
	r := j.Result()
	return &r
}

func encoded(t *rapid.T, r *Result) string {
	var out bytes.Buffer
	if err := Encode(&out, []Result{*r}); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// dealt is a memory that deals batches of sizes, again and again.
type dealt struct {
	memory
	sizes []int
}

func (d *dealt) Read(b *bus.Batch) error {
	d.size, d.sizes = d.sizes[0], append(d.sizes[1:], d.sizes[0])
	return d.memory.Read(b)
}

// stirred merges the frames of each moment anew, the sources in any order and each for itself in its own, as far as no note
// stands between them.
func stirred(frames []bus.Frame, notes []bus.Note, random *rand.Rand) []bus.Frame {
	out := make([]bus.Frame, 0, len(frames))
	note := 0
	for from := 0; from < len(frames); {
		for note < len(notes) && notes[note].Before <= from {
			note++
		}
		to := from + 1
		for to < len(frames) && frames[to].At == frames[from].At && (note == len(notes) || to < notes[note].Before) {
			to++
		}
		of := map[uint16][]bus.Frame{}
		var turn []uint16 // whose turn it is
		for _, f := range frames[from:to] {
			of[f.Source] = append(of[f.Source], f)
			turn = append(turn, f.Source)
		}
		random.Shuffle(len(turn), func(i, k int) { turn[i], turn[k] = turn[k], turn[i] })
		for _, s := range turn {
			out = append(out, of[s][0])
			of[s] = of[s][1:]
		}
		from = to
	}
	return out
}

// TestPropertyOrder: what is found depends neither on how what was heard is cut into batches, nor on the order in which the sources
// are met or stand in the setup, nor on which of them comes first at one and the same time.
func TestPropertyOrder(t *testing.T) {
	fewChecks(t, "6")
	rapid.Check(t, func(t *rapid.T) {
		c := anyVehicle(t)
		text := c.SetupYAML()
		bench := benchOf(t, text, &c)
		names, frames, notes := hear(t, c)
		// a coarse clock: many frames of one time
		step := rapid.SampledFrom([]int64{1, 100_000, 1_000_000, 25_000_000}).Draw(t, "clock")
		for i := range frames {
			frames[i].At -= frames[i].At % step
		}
		for i := range notes {
			notes[i].At -= notes[i].At % step
		}
		reference := found(t, bench, &memory{names: names, frames: frames, notes: notes}, true)
		want := encoded(t, reference)

		sizes := rapid.SliceOfN(rapid.OneOf(rapid.IntRange(1, 8), rapid.IntRange(1, 3000)), 1, 6).Draw(t, "batches")
		order := rapid.Permutation([]int{0, 1, 2}[:len(names)]).Draw(t, "names") // by old number
		grow := rapid.Bool().Draw(t, "names come with their frames")
		frames = stirred(frames, notes, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 0)))
		met := make([]string, len(names))
		for i, name := range names {
			met[order[i]] = name
		}
		for i := range frames {
			frames[i].Source = uint16(order[frames[i].Source])
		}
		for i := range notes {
			notes[i].Source = uint16(order[notes[i].Source])
		}
		other := func() *dealt {
			return &dealt{memory: memory{names: met, frames: frames, notes: notes, grow: grow}, sizes: slices.Clone(sizes)}
		}
		if got := encoded(t, found(t, bench, other(), rapid.Bool().Draw(t, "alone"))); got != want {
			t.Fatalf("%v: got before want:\n%.4000s", c.Faults, gocmp.Diff(got, want))
		}

		// the sources of the setup in another order
		head, rest, _ := strings.Cut(text, "sources:\n")
		list, rest, _ := strings.Cut(rest, "\n\n")
		turned := rapid.Permutation(strings.Split(list, "\n")).Draw(t, "sources")
		got := found(t, benchOf(t, head+"sources:\n"+strings.Join(turned, "\n")+"\n\n"+rest, &c), other(), true)
		for _, r := range []*Result{got, reference} {
			r.Setup.SHA256 = ""
			slices.SortStableFunc(r.Findings, func(a, b Finding) int { return strings.Compare(a.Name(), b.Name()) })
			slices.SortStableFunc(r.Causes, func(a, b Cause) int {
				return cmp.Or(strings.Compare(a.ID, b.ID), slices.Compare(a.Subjects, b.Subjects))
			})
			slices.Sort(r.Open)
		}
		if got, want := encoded(t, got), encoded(t, reference); got != want {
			t.Fatalf("%v: with the sources in the order %q: got before want:\n%.4000s", c.Faults, turned, gocmp.Diff(got, want))
		}
	})
}

// TestPropertyArrival: sources that the kernel hands over late, each by up to 20 ms, one now and the other then, may make evidence begin
// a moment earlier or later, so that a check has just enough of it or just not. What one order passes no other fails.
func TestPropertyArrival(t *testing.T) {
	fewChecks(t, "4")
	rapid.Check(t, func(t *rapid.T) {
		c := anyVehicle(t)
		bench := benchOf(t, c.SetupYAML(), &c)
		names, frames, notes := hear(t, c)
		want := found(t, bench, &memory{names: names, frames: frames, notes: notes}, true)

		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 0))
		most := rapid.Int64Range(1, 20_000_000).Draw(t, "late") // ns
		type arrived struct {
			at int64
			bus.Frame
		}
		late, newest, all := make([]int64, len(names)), make([]int64, len(names)), make([]arrived, 0, len(frames))
		for i, f := range frames {
			if i%50 == 0 {
				for k := range late {
					late[k] = random.Int64N(most)
				}
			}
			newest[f.Source] = max(newest[f.Source], f.At+late[f.Source]) // of a source nothing overtakes
			all = append(all, arrived{newest[f.Source], f})
		}
		slices.SortStableFunc(all, func(a, b arrived) int { return cmp.Compare(a.at, b.at) })
		mixed := make([]bus.Frame, len(all))
		for i := range all {
			mixed[i] = all[i].Frame
		}
		got := found(t, bench, &memory{names: names, frames: mixed, notes: notes}, true)
		for i := range want.Findings {
			w := &want.Findings[i]
			g := got.Finding(w.Check, w.Subject, w.Channel)
			if g == nil || min(g.Verdict, w.Verdict) == checks.Pass && max(g.Verdict, w.Verdict) == checks.Fail {
				t.Fatalf("%v: got %+v, want %+v", c.Faults, g, w)
			}
		}
	})
}
