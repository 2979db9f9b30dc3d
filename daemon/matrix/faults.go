package matrix

import (
	"context"
	"slices"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
)

// Tally is what came of the runs of one fault in one size and frame.
type Tally struct {
	Runs         int
	Fail         int // the named check failed on the right subject
	Inconclusive int // it could not decide
	Pass         int // it passed
	Innocent     int // something failed, or a cause named something, that nothing is wrong with
}

func (t *Tally) add(o *outcome) {
	t.Runs++
	switch o.verdict {
	case checks.Fail:
		t.Fail++
	case checks.Inconclusive:
		t.Inconclusive++
	case checks.Pass, checks.Absent:
		t.Pass++
	}
	if o.innocent != "" {
		t.Innocent++
	}
}

// Row is one kind of fault in one size.
type Row struct {
	Kind, Check string
	Times       float64   // of the limit; 0: the kind has no size against a limit
	Values      []float64 // that were tried, smallest first, in Unit; empty: none
	Unit        string
	Frames      [2]Tally // rotating, fixed
	Skip        string   // why it could not be tried, or only as it is
	Free        string   // why the check need not fail at all
	Notes       []string // the first runs that break a rule
}

// outcome is what one run showed.
type outcome struct {
	verdict  checks.Verdict // of the named check on the right subjects, the best of them
	sentence string
	innocent string // the first finding or cause that blames an innocent subject
}

// place is where a fault befalls, in the words of the simulator and of results.
type place struct {
	name     string
	subjects []string
	vehicles []int // numbers of corners that have it
}

// from returns the numbers of corners that are no fewer than so many.
func (p *place) from(least int) []int {
	return slices.DeleteFunc(slices.Clone(p.vehicles), func(n int) bool { return n < least })
}

// theBus is the one interface of the vehicles; their setup calls it wheels.
const theBus = "can0"

// vehiclesOf lists the numbers of corners of the vehicles that faults are put into.
func vehiclesOf() []int { return []int{1, 2, 4} }

// places lists where a kind of fault can befall.
func places(k *simulated.Kind) []place {
	var out []place
	add := func(corners int, name string, subjects ...string) {
		i := slices.IndexFunc(out, func(p place) bool { return p.name == name })
		if i < 0 {
			out = append(out, place{name: name, subjects: subjects})
			i = len(out) - 1
		}
		out[i].vehicles = append(out[i].vehicles, corners)
	}
	for _, n := range vehiclesOf() {
		c := simulated.Standard(n)
		if k.Subject == simulated.OneBus {
			add(n, theBus, "wheels")
		}
		for i := range c.Corners {
			name := c.Corners[i].Name
			switch k.Subject {
			case simulated.OneCorner, simulated.AnyCorners, simulated.CornerOrOptic:
				add(n, name, name)
			case simulated.TwoCorners:
				for _, o := range c.Corners[i+1:] {
					add(n, name+","+o.Name, name, o.Name)
				}
			case simulated.OneCamber, simulated.OneRoad, simulated.OneOptic, simulated.OneBus:
			}
		}
		for _, o := range c.Optics {
			camber := k.Subject == simulated.OneCamber && o.Kind == simulated.CamberBar
			road := k.Subject == simulated.OneRoad && o.Kind == simulated.GroundSpeed
			if camber || road || k.Subject == simulated.OneOptic || k.Subject == simulated.CornerOrOptic {
				add(n, o.Name, o.Name)
			}
		}
	}
	return out
}

const half = 0.5

// times are the sizes that are tried, of the limit.
func times() []float64 { return []float64{half, 1, 2, 10} }

// Faults tries every kind of fault in every size. The rows are in the order of the simulator's kinds.
func Faults(ctx context.Context, c Config) ([]Row, error) {
	c, err := c.withDefaults()
	if err != nil {
		return nil, err
	}
	var (
		rows  []Row
		jobs  []job
		tries []try
		all   = sizes()
	)
	for _, k := range simulated.Kinds() {
		if c.Kinds != nil && !slices.Contains(c.Kinds, k.Name) {
			continue
		}
		s := all[k.Name]
		tried := times()
		if s.at == nil {
			tried = []float64{0}
		}
		for _, t := range tried {
			row := Row{Kind: k.Name, Check: k.Check, Times: t, Unit: k.Unit, Skip: s.why, Free: s.free}
			for _, fixed := range [2]bool{false, true} {
				for _, p := range places(&k) {
					for n := range c.Seeds {
						large := p.from(s.least)
						v := vehicle{corners: large[n%len(large)], fixed: fixed, script: s.script}
						if t == 2 && s.twice != brief {
							v.script = s.twice
						}
						f := simulated.Fault{Kind: k.Name, Corner: p.name, Value: k.Default}
						seed := uint64(n + 1)
						if s.at != nil {
							var skip string
							if f.Value, skip = s.value(&k, t, &v, seed); skip != "" {
								row.Skip = skip
								continue
							}
						}
						jobs = append(jobs, job{vehicle: v, seed: seed, faults: []simulated.Fault{f}})
						tries = append(tries, try{row: len(rows), place: p, size: s})
						row.tried(&k, f.Value)
					}
				}
			}
			rows = append(rows, row)
		}
	}
	outcomes := make([]outcome, len(jobs))
	err = c.runAll(ctx, jobs, func(i int, r *daemon.Result) {
		t := &tries[i]
		guilty := slices.Concat(t.place.subjects, t.size.also)
		if t.place.name == theBus {
			guilty = nil // all hang on it
			for k := range r.Findings {
				guilty = append(guilty, r.Findings[k].Subject)
			}
		}
		outcomes[i] = look(r, rows[t.row].Check, t.size.channel, t.place.subjects, guilty)
	})
	if err != nil {
		return nil, err
	}
	for i := range outcomes {
		rows[tries[i].row].add(&jobs[i], &outcomes[i])
	}
	return rows, nil
}

// try says which row a run belongs to and what it is about.
type try struct {
	row   int
	place place
	size  size
}

// tried keeps the value.
func (r *Row) tried(k *simulated.Kind, value float64) {
	if k.NoValue {
		return
	}
	if i, ok := slices.BinarySearch(r.Values, value); !ok {
		r.Values = slices.Insert(r.Values, i, value)
	}
}

func (r *Row) add(j *job, o *outcome) {
	frame := 0
	if j.vehicle.fixed {
		frame = 1
	}
	r.Frames[frame].add(o)
	note := func(text string) {
		if len(r.Notes) < 3 {
			r.Notes = append(r.Notes, j.where()+": "+text)
		}
	}
	switch {
	case o.innocent != "":
		note(o.innocent)
	case r.must() && o.verdict != checks.Fail:
		note(o.verdict.String() + ": " + o.sentence)
	case r.Times == half && o.verdict == checks.Fail:
		note("fail: " + o.sentence)
	}
}

// must tells whether a fault of this size must be found.
func (r *Row) must() bool { return r.Free == "" && (r.Times == 0 || r.Times >= 2) }

// look reads a result: what the named check says of the right subjects, and who else is blamed.
func look(r *daemon.Result, check, channel string, subjects, guilty []string) outcome {
	o := outcome{verdict: checks.Fail}
	for _, s := range subjects {
		best, sentence := checks.Absent, ""
		for i := range r.Findings {
			f := &r.Findings[i]
			if f.Check != check || f.Subject != s || channel != "" && f.Channel != channel {
				continue
			}
			if better(f.Verdict, best) {
				best, sentence = f.Verdict, f.Sentence
			}
		}
		if better(o.verdict, best) { // the worst of the subjects counts
			o.verdict, o.sentence = best, sentence
		} else if o.sentence == "" {
			o.sentence = sentence
		}
	}
	o.innocent = blamed(r, guilty)
	return o
}

// better tells whether verdict a sees a fault more clearly than b.
func better(a, b checks.Verdict) bool {
	rank := func(v checks.Verdict) int {
		return slices.Index([]checks.Verdict{checks.Absent, checks.Pass, checks.Inconclusive, checks.Fail}, v)
	}
	return rank(a) > rank(b)
}

// blamed returns the first finding that failed, or cause, about a subject that is not guilty.
func blamed(r *daemon.Result, guilty []string) string {
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict == checks.Fail && !slices.Contains(guilty, f.Subject) {
			return f.Name() + ": " + f.Sentence
		}
	}
	for i := range r.Causes {
		for _, s := range r.Causes[i].Subjects {
			if !slices.Contains(guilty, s) {
				return r.Causes[i].ID + ": " + r.Causes[i].Sentence
			}
		}
	}
	return ""
}
