package matrix

import (
	"bytes"
	"context"
	"errors"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// TestRules is the matrix with few seeds: every fault, size, corner and frame, clean vehicles, every pair.
func TestRules(t *testing.T) {
	if testing.Short() || raceDetector {
		t.Skip("some thousand runs of a vehicle; TestDeterministic runs some of them")
	}
	r, err := Try(t.Context(), Config{Seeds: 1, Clean: 3}, Parts{Faults: true, Clean: true, Pairs: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Broken() {
		t.Error(b)
	}
	seen := map[string]int{}
	for _, row := range r.Faults {
		runs := row.Frames[0].Runs + row.Frames[1].Runs
		if runs == 0 && row.Skip == "" {
			t.Errorf("%s × %g has no run and no reason", row.Kind, row.Times)
		}
		seen[row.Kind] += runs
	}
	for _, k := range simulated.Kinds() {
		if seen[k.Name] == 0 {
			t.Errorf("%s is not tried", k.Name)
		}
	}
	if got, want := len(r.Pairs), 2*13*12/2; got != want {
		t.Errorf("%d rows of pairs, want %d: every pair, on different corners and on the same", got, want)
	}
}

// TestDeterministic: the number of processors shows nowhere.
func TestDeterministic(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	var want string
	for _, n := range []int{1, 3} {
		runtime.GOMAXPROCS(n)
		var told atomic.Int64
		c := Config{Seeds: 2, Kinds: []string{"lost", "identity"}, Done: func(int, int) { told.Add(1) }}
		rows, err := Faults(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		r := Report{Command: "x", Faults: rows}
		runs := 0
		for _, row := range rows {
			runs += row.Frames[0].Runs + row.Frames[1].Runs
		}
		// FL FR RL RR and three sensors in four sizes, four corners as they are; two frames, two seeds.
		if want := 2 * 2 * (4*7 + 4); runs != want || int(told.Load()) != want {
			t.Errorf("%d runs, %d told, want %d", runs, told.Load(), want)
		}
		var text, page bytes.Buffer
		if err := errors.Join(r.Text(&text), r.Markdown(&page)); err != nil {
			t.Fatal(err)
		}
		got := text.String() + page.String()
		if want == "" {
			want = got
			continue
		}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("on %d processors, got before want:\n%s", n, diff)
		}
	}
}

func TestConfig(t *testing.T) {
	for _, c := range []Config{{Seeds: -1}, {Clean: -1}, {Kinds: []string{"zeros"}}} {
		if _, err := Faults(t.Context(), c); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Try(ctx, Config{}, Parts{Clean: true}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v, want %v", err, context.Canceled)
	}
}

// TestSizes: values that a kind cannot take are left out with the reason, in both directions where it has two.
func TestSizes(t *testing.T) {
	kinds := simulated.Kinds()
	kind := func(name string) *simulated.Kind {
		return &kinds[slices.IndexFunc(kinds, func(k simulated.Kind) bool { return k.Name == name })]
	}
	v := vehicle{corners: 4}
	for _, tt := range []struct {
		kind  string
		times float64
		seed  uint64
		want  float64
		skip  string
	}{
		{"zero", 2, 1, 120, ""},
		{"zero", 2, 2, -120, ""},
		{"zero-my", 0.5, 1, 6, ""},
		{"load", 10, 2, 2, ""}, // no wheel carries nothing: the other direction
		{"drag", 10, 2, 120, ""},
		{"supply", 1, 1, 9.1, ""},
		{"supply", 10, 1, -33.2, "−33.2 V cannot be, 0 V is the least"},
		{"clearance", 10, 1, 0.3, "0.3 m cannot be, 0.1 m is the most"},
		{"angle-slip", 1, 1, 0.3, ""},
	} {
		s := sizes()[tt.kind]
		got, skip := s.value(kind(tt.kind), tt.times, &v, tt.seed)
		if d := got - tt.want; d > 1e-9 || d < -1e-9 || skip != tt.skip {
			t.Errorf("%s × %g, seed %d: got %v %q, want %v %q", tt.kind, tt.times, tt.seed, got, skip, tt.want, tt.skip)
		}
	}
	for name, s := range sizes() {
		if !slices.ContainsFunc(kinds, func(k simulated.Kind) bool { return k.Name == name }) {
			t.Errorf("size of %s, which is no kind of fault", name)
		}
		if (s.at == nil) == (s.why == "") {
			t.Errorf("%s: want either a size or why there is none", name)
		}
	}
}

func TestPlaces(t *testing.T) {
	for _, tt := range []struct {
		subject simulated.Subject
		want    string
	}{
		{simulated.OneCorner, "FL[1 2 4] FR[2 4] RL[4] RR[4]"},
		{simulated.TwoCorners, "FL,FR[2 4] FL,RL[4] FL,RR[4] FR,RL[4] FR,RR[4] RL,RR[4]"},
		{simulated.OneCamber, "camber FL[1 2 4] camber FR[2 4]"},
		{simulated.OneRoad, "road[1 2 4]"},
		{simulated.OneBus, "can0[1 2 4]"},
		{simulated.CornerOrOptic, "FL[1 2 4] camber FL[1 2 4] road[1 2 4] FR[2 4] camber FR[2 4] RL[4] RR[4]"},
	} {
		var got []string
		for _, p := range places(&simulated.Kind{Subject: tt.subject}) {
			got = append(got, p.name+strings.ReplaceAll(ints(p.vehicles), ",", " "))
		}
		if got := strings.Join(got, " "); got != tt.want {
			t.Errorf("%s: got %s, want %s", tt.subject, got, tt.want)
		}
	}
}

func ints(x []int) string {
	var out []string
	for _, n := range x {
		out = append(out, string(rune('0'+n)))
	}
	return "[" + strings.Join(out, ",") + "]"
}

func finding(check, subject, channel string, v checks.Verdict) daemon.Finding {
	return daemon.Finding{Check: check, Subject: subject, Channel: channel, Verdict: v, Sentence: check + " of " + subject}
}

func TestLook(t *testing.T) {
	r := daemon.Result{
		Findings: []daemon.Finding{
			finding("zero", "FL", "fx", checks.Pass),
			finding("zero", "FL", "fz", checks.Fail),
			finding("zero", "FR", "fz", checks.Inconclusive),
			finding("placement", "FL", "", checks.Fail),
			finding("placement", "FR", "", checks.Pass),
			finding("load", "vehicle", "", checks.Fail),
		},
		Causes: []daemon.Cause{{ID: "bolt-holes:RR", Subjects: []string{"FL", "RR"}, Sentence: "RR"}},
	}
	for _, tt := range []struct {
		name, check, channel string
		subjects, guilty     []string
		verdict              checks.Verdict
		innocent             string
	}{
		{"any channel", "zero", "", []string{"FL"}, []string{"FL", "vehicle", "RR"}, checks.Fail, ""},
		{"another channel", "zero", "fx", []string{"FL"}, []string{"FL", "vehicle", "RR"}, checks.Pass, ""},
		{"undecided", "zero", "", []string{"FR"}, []string{"FL", "vehicle", "RR"}, checks.Inconclusive, ""},
		{"one of two", "placement", "", []string{"FL", "FR"}, []string{"FL", "vehicle", "RR"}, checks.Pass, ""},
		{"nothing there", "drag", "", []string{"FL"}, []string{"FL", "vehicle", "RR"}, checks.Absent, ""},
		{"the vehicle is innocent", "zero", "", []string{"FL"}, []string{"FL", "RR"}, checks.Fail, "load/vehicle: load of vehicle"},
		{"a cause blames", "zero", "", []string{"FL"}, []string{"FL", "vehicle"}, checks.Fail, "bolt-holes:RR: RR"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := look(&r, tt.check, tt.channel, tt.subjects, tt.guilty)
			if got.verdict != tt.verdict || got.innocent != tt.innocent {
				t.Errorf("got %s, %q, want %s, %q", got.verdict, got.innocent, tt.verdict, tt.innocent)
			}
		})
	}
}

// TestBroken breaks each rule once, on invented rows.
func TestBroken(t *testing.T) {
	row := func(times float64, a Tally) Row {
		return Row{Kind: "k", Times: times, Frames: [2]Tally{a, {Runs: 4, Fail: 4}}, Notes: []string{"n"}}
	}
	limit := row(1, Tally{Runs: 80, Fail: 4, Inconclusive: 76}) // 5 % of 80 can be 2.5 %
	limit.Frames[1] = Tally{Runs: 4, Pass: 4}
	beyond := row(1, Tally{Runs: 80, Fail: 14, Inconclusive: 66})
	beyond.Frames[1] = Tally{}
	free := row(0, Tally{Runs: 4, Pass: 4})
	free.Free = "f"
	quiet := row(half, Tally{Runs: 100, Fail: 2, Pass: 98})
	quiet.Frames[1] = Tally{Runs: 4, Inconclusive: 2, Pass: 2}
	alarm := row(half, Tally{Runs: 100, Fail: 3, Pass: 97})
	alarm.Frames[1] = Tally{}
	for _, tt := range []struct {
		name string
		r    Report
		want []string
	}{
		{"all is well", Report{
			Faults: []Row{row(2, Tally{Runs: 4, Fail: 4}), limit, free, quiet},
			Clean:  []CleanRow{{Vehicle: "v", Runs: 3, Open: 1}}, Pairs: []PairRow{{Runs: 20, Both: 19}, {Skip: "s"}},
		}, nil},
		{"missed at twice", Report{Faults: []Row{row(2, Tally{Runs: 4, Fail: 3, Inconclusive: 1})}}, []string{"k, 2, rotating: missed in 1 of 4 runs; n"}},
		{"missed as it is", Report{Faults: []Row{row(0, Tally{Runs: 4, Fail: 3, Pass: 1})}}, []string{"k, as it is, rotating: missed in 1 of 4 runs; n"}},
		{"alarm at the limit", Report{Faults: []Row{beyond}}, []string{"k, 1, rotating: fails in 14 of 80 runs; n"}},
		{"alarm at half", Report{Faults: []Row{alarm}}, []string{"k, ½, rotating: fails in 3 of 100 runs; n"}},
		{"innocent", Report{Faults: []Row{row(10, Tally{Runs: 4, Fail: 4, Innocent: 1})}}, []string{"k, 10, rotating: blames an innocent in 1 of 4 runs; n"}},
		{"clean", Report{Clean: []CleanRow{{Vehicle: "v", Runs: 3, Failed: 1}}}, []string{"clean, v: something fails in 1 of 3 runs"}},
		{"pair", Report{Pairs: []PairRow{{A: "a", B: "b", Where: "w", Runs: 20, Both: 18, Innocent: 1}}}, []string{"a and b, w: both named in 18 of 20 runs", "a and b, w: blames an innocent in 1 of 20 runs"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.r.Broken(), tt.want); diff != "" {
				t.Errorf("got before want:\n%s", diff)
			}
			if kept := strings.HasPrefix(tt.r.verdict(), "All rules are kept"); kept != (tt.want == nil) {
				t.Errorf("verdict: %s", tt.r.verdict())
			}
		})
	}
}
