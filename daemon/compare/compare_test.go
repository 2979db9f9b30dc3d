package compare

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"plumbline/checks"
	"plumbline/checks/fit"
	"plumbline/daemon"
)

func compared(before, after *daemon.Result) Comparison {
	return Compare("plumbline (test)", Of{"before.json", before}, Of{"after.json", after})
}

// named returns the movement of a name.
func named(t *testing.T, c Comparison, name string) *Movement {
	t.Helper()
	for i := range c.Movements {
		if c.Movements[i].Name() == name {
			return &c.Movements[i]
		}
	}
	t.Fatalf("nothing is said of %s", name)
	return nil
}

// result is a test of corners FL and FR with a zero, a weight, an angle offset and a drag each.
func result(change func(r *daemon.Result)) *daemon.Result {
	r := &daemon.Result{
		Schema: 1, Program: "plumbline (test)", Setup: daemon.SetupFile{File: "minibus.yaml", SHA256: "ab", Vehicle: "Minibus 7"},
		Captures: []daemon.Capture{{File: "a.log", First: 1e18, Last: 1e18 + 60e9}},
	}
	for i, corner := range []string{"FL", "FR"} {
		side := []string{"left", "right"}[i]
		r.Transducers = append(r.Transducers, daemon.Transducer{
			Corner: corner, Axle: 1, Side: side, Serial: new(uint64(40117 + i)), SerialFrom: daemon.SerialSent,
			Forces: "rotating", WheelMassKg: 34, AngleCounts: 2048, LowestTempC: new(20.0), HighestTempC: new(22.0),
		})
		add := func(check, channel, unit string, value, limit float64, p daemon.Parts) {
			u := fit.Expanded(fit.Part{U: p.Scatter, DOF: p.DOF}, fit.TypeB(p.Resolution), fit.TypeB(p.Count))
			r.Findings = append(r.Findings, daemon.Finding{
				Check: check, Subject: corner, Channel: channel, Verdict: checks.Pass, Value: new(value), Uncertainty: new(u), Parts: &p,
				Limit: new(limit), Unit: unit, Evidence: daemon.Evidence{Revolutions: 6},
			})
		}
		add("zero", "fx", "N", 10+float64(i), 60, daemon.Parts{Scatter: 1, DOF: 5, Resolution: 0.5})
		add("zero", "fy", "N", -4, 60, daemon.Parts{Scatter: 1, DOF: 5, Resolution: 0.5})
		add("weight", "", "", 1.002, 0.05, daemon.Parts{Scatter: 0.002, DOF: 5, Resolution: 0.001})
		add("drag", "", "N·m", 3, 12, daemon.Parts{Scatter: 0.1, DOF: 4, Resolution: 0.03})
		add("angle-offset", "", "rad", 0.002, 0.017, daemon.Parts{Scatter: 0.0001, DOF: 4, Resolution: 0.00001, Count: 0.0018})
		r.Findings = append(r.Findings, daemon.Finding{Check: "noise", Subject: corner, Channel: "fy", Verdict: checks.Pass, Value: new(8.0), Unit: "N"})
	}
	if change != nil {
		change(r)
	}
	return r
}

// later moves a test behind the first.
func later(r *daemon.Result) {
	r.Captures[0].First += 3600e9
	r.Captures[0].Last += 3600e9
}

func set(r *daemon.Result, check, subject, channel string, value float64) {
	*r.Finding(check, subject, channel).Value = value
}

// swap has the two transducers change places.
func swap(r *daemon.Result) {
	later(r)
	a, b := &r.Transducers[0], &r.Transducers[1]
	a.Serial, b.Serial = b.Serial, a.Serial
}

func TestCompare(t *testing.T) {
	sameSide := func(r *daemon.Result) { r.Transducers[1].Side = "left" }
	tests := []struct {
		name          string
		before, after func(r *daemon.Result)
		movement      string
		state         State
		size          Size
		says          string // of sentence, meaning and next
		remark        string
		code          int
	}{
		{"nothing moved", nil, later, "zero/FL/fx", Unmoved, Within, "within", "", 0},
		{
			"a zero moved, within its limit", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 51) }, "zero/FL/fx", Moved, Within,
			"moved by +41.0 N ± 3.2 N, more than chance does (", "", 1,
		},
		{
			"and what that means", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 80) }, "zero/FL/fx", Moved, Beyond,
			"Forces FL fx in between are uncertain by up to 70.0 N in the axis that turns with the wheel", "", 1,
		},
		{"within its limit in short", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 51) }, "zero/FL/fx", Moved, Within, "uncertain by up to 41.0 N, as a wave once per turn.", "", 1},
		{"a mean is wrong as well where nothing turns", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fy", 51) }, "zero/FL/fy", Moved, Within, "and so are their means", "", 1},
		{"beyond its limit", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 80) }, "zero/FL/fx", Moved, Beyond, "beyond its limit of 60 N", "", 1},
		{"at its limit", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 70) }, "zero/FL/fx", Moved, Undecided, "cannot be told", "", 1},
		{"tared in between", nil, func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", 0.5) }, "zero/FL/fx", Moved, Within, "if it was tared", "", 1},
		{"warmer", nil, func(r *daemon.Result) {
			later(r)
			set(r, "zero", "FL", "fx", 51)
			r.Transducers[0].HighestTempC = new(60.0)
			r.Transducers[0].LowestTempC = new(50.0)
		}, "zero/FL/fx", Moved, Within, "", "FL 34 °C warmer", 1},
		{"a turned angle leaks", nil, func(r *daemon.Result) { later(r); set(r, "angle-offset", "FL", "", 0.012) }, "angle-offset/FL", Moved, Within, "of each 1000 N of the vertical force up to 10.0 N", "", 1},
		{
			"an angle goes round", func(r *daemon.Result) { set(r, "angle-offset", "FL", "", 3.141) }, func(r *daemon.Result) { later(r); set(r, "angle-offset", "FL", "", -3.141) },
			"angle-offset/FL", Unmoved, Within, "", "", 0,
		},
		{"not turned", nil, func(r *daemon.Result) {
			later(r)
			f := r.Finding("zero", "FL", "fx")
			f.Value, f.Uncertainty, f.Verdict, f.Sentence = nil, nil, checks.Inconclusive, "FL has turned 0.0 turns forward"
		}, "zero/FL/fx", Open, Undecided, "in the second test: FL has turned 0.0 turns forward", "", 3},
		{"too uncertain for its limit", nil, func(r *daemon.Result) { later(r); r.Finding("zero", "FL", "fx").Parts.Scatter = 40 }, "zero/FL/fx", Unmoved, Undecided, "so uncertain", "", 3},
		{
			"swapped, the zero goes with the number", sameSide, func(r *daemon.Result) {
				sameSide(r)
				swap(r)
				set(r, "zero", "FR", "fx", 10)
				set(r, "zero", "FL", "fx", 11)
			},
			"zero/FR/fx", Unmoved, Within, "", "The transducer 40117 moved from FL to FR", 3,
		},
		{"swapped, the drag stays", sameSide, func(r *daemon.Result) { sameSide(r); swap(r); set(r, "drag", "FR", "", 9) }, "drag/FR", Moved, Within, "no error of the transducer", "", 1},
		{"swapped, another wheel weighs otherwise", sameSide, func(r *daemon.Result) { sameSide(r); swap(r) }, "weight/FR", Open, Undecided, "carries another wheel now", "", 3},
		{"swapped to the other side", nil, swap, "zero/FR/fx", Open, Undecided, "mounted mirrored", "", 3},
		{
			"replaced", nil, func(r *daemon.Result) { later(r); r.Transducers[0].Serial = new(uint64(50233)) }, "zero/FL/fx", Open, Undecided,
			"another transducer sits at FL now: 50233", "At FL the transducer 40117 sat before", 3,
		},
		{"replaced, the drag is that of the wheel", nil, func(r *daemon.Result) { later(r); r.Transducers[0].Serial = new(uint64(50233)) }, "drag/FL", Unmoved, Within, "", "", 3},
		{"no serial numbers", func(r *daemon.Result) { r.Transducers[0].Serial = nil }, later, "zero/FL/fx", Unmoved, Within, "", "serial number of FL is not known in both", 0},
		{"the same number twice", func(r *daemon.Result) { r.Transducers[1].Serial = r.Transducers[0].Serial }, later, "zero/FR/fx", Unmoved, Within, "", "40117 stands at several corners", 0},
		{"another vehicle, the same transducer", nil, func(r *daemon.Result) { later(r); r.Setup.Vehicle = "Minibus 8" }, "zero/FL/fx", Unmoved, Within, "", "two vehicles, Minibus 7 and Minibus 8", 3},
		{"another vehicle, another brake", nil, func(r *daemon.Result) { later(r); r.Setup.Vehicle = "Minibus 8" }, "drag/FL", Open, Undecided, "of another vehicle", "", 3},
		{"another setup", nil, func(r *daemon.Result) { later(r); r.Setup.SHA256 = "cd" }, "zero/FL/fx", Unmoved, Within, "", "two setups (SHA-256 ab and cd)", 0},
		{"another mass, the same wheel", nil, func(r *daemon.Result) {
			later(r)
			r.Transducers[0].WheelMassKg = 35
			set(r, "weight", "FL", "", 1.002*34/35)
		}, "weight/FL", Unmoved, Within, "", "masses of 34 and 35 kg", 0},
		{"the wrong way round", func(r *daemon.Result) { later(r) }, nil, "zero/FL/fx", Unmoved, Within, "", "the second test is the earlier one", 0},
		{"the same test", nil, nil, "zero/FL/fx", Unmoved, Within, "", "may be the same one", 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := compared(result(test.before), result(test.after))
			m := named(t, c, test.movement)
			if m.State != test.state || m.Size != test.size {
				t.Errorf("got %s, %s, want %s, %s: %s", m.State, m.Size, test.state, test.size, m.Sentence)
			}
			if all := m.Sentence + " " + m.Meaning + " " + m.Next; !strings.Contains(all, test.says) {
				t.Errorf("got %q, want %q in it", all, test.says)
			}
			if all := strings.Join(c.Remarks, "\n"); !strings.Contains(strings.ToLower(all), strings.ToLower(test.remark)) || test.remark == "" && len(c.Remarks) > 0 && test.code == 0 {
				t.Errorf("got remarks %q, want %q", all, test.remark)
			}
			if got := c.ExitCode(false); got != test.code {
				t.Errorf("exit code %d, want %d", got, test.code)
			}
			for i := range c.Movements {
				if c.Movements[i].Sentence == "" {
					t.Errorf("%s has no sentence", c.Movements[i].Name())
				}
			}
		})
	}
}

// TestByLimit: who counts only what exceeds a limit is told of nothing less, and never of a pass where that is not known.
func TestByLimit(t *testing.T) {
	for value, want := range map[float64]int{10: 0, 51: 0, 70: 3, 80: 1} {
		c := compared(result(nil), result(func(r *daemon.Result) { later(r); set(r, "zero", "FL", "fx", value) }))
		if got := c.ExitCode(true); got != want {
			t.Errorf("a zero that moved from 10 to %v N against 60 N: exit code %d, want %d", value, got, want)
		}
	}
	empty := compared(&daemon.Result{}, &daemon.Result{})
	if a, b := empty.ExitCode(true), empty.ExitCode(false); a != 3 || b != 3 {
		t.Errorf("of nothing: exit codes %d and %d, want 3", a, b)
	}
}

// TestShare: what both tests share drops out, what they do not share stays.
func TestShare(t *testing.T) {
	tests := []struct {
		name          string
		before, after func(r *daemon.Result)
		movement      string
		part          string
		correlation   float64
		left          float64
	}{
		{"scatter", nil, nil, "zero/FL/fx", partScatter, 0, math.Sqrt2},
		{"the weight sweeps fx over its steps", nil, nil, "zero/FL/fx", partResolution, 1, 0},
		{"noise sweeps fy", nil, nil, "zero/FL/fy", partResolution, 1, 0},
		{"without noise fy may stand anywhere in a step", nil, func(r *daemon.Result) { set(r, "noise", "FL", "fy", 0.5) }, "zero/FL/fy", partResolution, 0, math.Sqrt(0.5)},
		{"another step is another bias", nil, func(r *daemon.Result) { r.Finding("zero", "FL", "fx").Parts.Resolution = 0.25 }, "zero/FL/fx", partResolution, 0, math.Hypot(0.5, 0.25)},
		{"half a count is rounding", nil, nil, "angle-offset/FL", partRounding, 1, 0},
		{"half a count is the index", nil, nil, "angle-offset/FL", partIndex, 0, 0.0009 * math.Sqrt2},
		{"another encoder", nil, func(r *daemon.Result) { r.Finding("angle-offset", "FL", "").Parts.Count = 0.0009 }, "angle-offset/FL", partIndex, 0, math.Hypot(0.0018, 0.0009)},
		{"the wheel's mass", nil, nil, "weight/FL", partMass, 1, 0},
		{"calibration", nil, nil, "zero/FL/fx", partCalibration, 1, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			after := result(test.after)
			later(after)
			m := named(t, compared(result(test.before), after), test.movement)
			i := slices.IndexFunc(m.Parts, func(p Part) bool { return p.Name == test.part })
			if i < 0 {
				t.Fatalf("no part %q in %+v", test.part, m.Parts)
			}
			if p := m.Parts[i]; p.Correlation != test.correlation || math.Abs(p.Left-test.left) > 1e-5 {
				t.Errorf("got correlation %v, %v left, want %v, %v", p.Correlation, p.Left, test.correlation, test.left)
			}
		})
	}
}

// TestUncertaintyOfDifference: two scatters of 1 N with 5 degrees of freedom each make √2 N with 10
// (Welch and Satterthwaite), t = 2.228 (JCGM 100, table G.2) and U = 3.151 N.
func TestUncertaintyOfDifference(t *testing.T) {
	m := named(t, compared(result(nil), result(later)), "zero/FL/fx")
	if *m.DOF != 10 || math.Abs(*m.Uncertainty-2.228*math.Sqrt2) > 1e-3 {
		t.Errorf("got U = %v with %v degrees of freedom, want 3.151 with 10", *m.Uncertainty, *m.DOF)
	}
	// Bonferroni over the ten that are compared: t of 1 − 0.05/10 with 10 degrees of freedom is 3.581 (tables of Student's t, 0.9975 one-sided).
	if math.Abs(*m.Chance-3.581*math.Sqrt2) > 2e-3 {
		t.Errorf("got %v by chance, want 5.064", *m.Chance)
	}
}

// TestNIST: two samples whose means, deviations and numbers are published with the t statistic and the effective degrees
// of freedom where their deviations differ (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.3, AUTO83B.DAT: miles per gallon of
// 249 and 79 vehicles, 20.14458 ± 6.41470 and 30.48101 ± 6.10771; T = −12.94627, 136.8750 degrees of freedom).
func TestNIST(t *testing.T) {
	sample := func(mean, sd, n float64) func(r *daemon.Result) {
		return func(r *daemon.Result) {
			f := r.Finding("zero", "FL", "fx")
			f.Value, f.Parts = new(mean), &daemon.Parts{Scatter: sd / math.Sqrt(n), DOF: n - 1}
		}
	}
	before, after := result(sample(30.48101, 6.10771, 79)), result(sample(20.14458, 6.41470, 249))
	later(after)
	m := named(t, compared(before, after), "zero/FL/fx")
	statistic := *m.Change * fit.T95(*m.DOF) / *m.Uncertainty
	if math.Abs(*m.DOF-136.875) > 1e-3 || math.Abs(statistic-(-12.94627)) > 1e-4 {
		t.Errorf("got T = %v with %v degrees of freedom, want −12.94627 with 136.8750", statistic, *m.DOF)
	}
}

// TestWithoutParts: a result of an earlier version says nothing of what is common; its uncertainty counts whole and more than that.
func TestWithoutParts(t *testing.T) {
	after := result(later)
	f := after.Finding("zero", "FL", "fx")
	f.Parts = nil
	m := named(t, compared(result(nil), after), "zero/FL/fx")
	if least := math.Hypot(*f.Uncertainty, *result(nil).Finding("zero", "FL", "fx").Uncertainty); *m.Uncertainty < least {
		t.Errorf("got %v, want %v at least", *m.Uncertainty, least)
	}
}

// TestSameBytes: what is written is what was written.
func TestSameBytes(t *testing.T) {
	var first, second bytes.Buffer
	for _, b := range []*bytes.Buffer{&first, &second} {
		c := compared(result(nil), result(later))
		if err := c.Encode(b); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) || first.Len() == 0 {
		t.Error("the same tests give different bytes")
	}
	if _, err := daemon.Decode(&first); !errors.Is(err, daemon.ErrNoResult) {
		t.Errorf("a comparison was read as a result: %v", err)
	}
}
