package main

import (
	"bytes"
	"flag"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

var fullRate = flag.Bool("full-rate", false, "let the long drive have four wheels at 200 Hz: some minutes")

// tenHours is a drive of ten hours with a stop in each.
func tenHours() []simulated.Phase {
	var script []simulated.Phase
	for range 10 {
		script = append(script,
			simulated.Phase{Kind: simulated.Rest, Seconds: 30},
			simulated.Phase{Kind: simulated.Drive, SpeedMps: 5, Seconds: 3550, Roughness: 0.3},
			simulated.Phase{Kind: simulated.Drive, Roughness: 0.3},
		)
	}
	return script
}

// TestLongDrive judges ten hours of driving in which a zero drifts by 0.5 N a minute, a cable chafes and the
// amplifier begins anew at half time: each is found, told once and at the right time; memory stays as it is, and what is said
// in the end fits a screen.
func TestLongDrive(t *testing.T) {
	if testing.Short() {
		t.Skip("judges ten hours")
	}
	cfg := simulated.Standard(2)
	cfg.RateHz, cfg.Optics = 20, nil
	if *fullRate {
		cfg = simulated.Standard(4)
		cfg.RateHz = 200
	}
	cfg.Script = append(cfg.FunctionShort(), tenHours()...)
	for i := range cfg.Script {
		if cfg.Script[i].Kind == simulated.Turn {
			cfg.Script[i].Turns = 9 // so seldom as frames come, a lifted wheel must show long that its ring loses none
		}
	}
	yard(t, map[string]string{"drive.yaml": cfg.SetupYAML()})
	for _, f := range cfg.DBCs() {
		put(t, f.Name, f.Text)
	}
	for _, text := range []string{"drift:FL=300", "chafe:FR", "reboot=5"} {
		f, err := simulated.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	s, err := setup.Load("drive.yaml")
	if err != nil {
		t.Fatal(err)
	}
	bench, err := daemon.NewBench(s, program())
	if err != nil {
		t.Fatal(err)
	}
	src, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var (
		j     = bench.Judge("drive")
		watch daemon.Watch
		begun int64
		last  int64
		told  = map[string][]time.Duration{} // by check and subject, when it began to fail
		heap  []uint64                       // every hour
	)
	j.Grid = func(at int64) {
		if begun == 0 {
			begun, last = at, at
		}
		if at-last < int64(time.Minute) {
			return
		}
		last = at
		r := j.Result()
		for _, c := range watch.Look(&r) {
			if c.To == checks.Fail {
				name := c.Check + " " + c.Subject
				told[name] = append(told[name], time.Duration(at-begun))
			}
		}
		if hours := int((at - begun) / int64(time.Hour)); hours > len(heap) {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			heap = append(heap, m.HeapAlloc)
		}
	}
	from := time.Now()
	if err := j.Run(t.Context(), src); err != nil {
		t.Fatal(err)
	}
	r := j.Result()
	first, end := r.Captures[0].First, r.Captures[0].Last
	t.Logf("%d frames in %.1f s; held after each hour %v bytes", r.Captures[0].Frames, time.Since(from).Seconds(), heap)

	whole := time.Duration(end - first)
	for _, want := range []struct {
		finding  string
		from, to time.Duration // within which it fails first
		now      bool          // it goes on to the end
	}{
		{"coupling/FR", 0, 10 * time.Minute, true},
		// 60 N of 300 after a fifth of the way; the first minutes, U and two windows come on top of it
		{"drift/FL/fx", whole / 5, whole/5 + 20*time.Minute, true},
		{"alive/FL", whole / 2, whole/2 + 7*time.Second, false},
	} {
		k := slices.IndexFunc(r.Findings, func(f daemon.Finding) bool { return f.Name() == want.finding })
		if k < 0 || r.Findings[k].Failed == nil {
			t.Errorf("%s has not failed", want.finding)
			continue
		}
		f := r.Findings[k].Failed
		if at := time.Duration(f.First - first); at < want.from || at > want.to {
			t.Errorf("%s failed first after %v, want %v to %v", want.finding, at, want.from, want.to)
		}
		if f.Now != want.now {
			t.Errorf("%s is said to go on: %v", want.finding, f.Now)
		}
	}
	for _, name := range []string{"coupling FR", "alive FR", "drift FR", "drift FL", "alive FL"} {
		if len(told[name]) != 1 && name != "drift FR" { // whether that is enough to see its rate sink is for chance to say
			t.Errorf("%s was told %d times: %v", name, len(told[name]), told[name])
		}
		delete(told, name)
	}
	if len(told) > 0 {
		t.Errorf("told as well: %v", told)
	}
	var causes []string
	for i := range r.Causes {
		causes = append(causes, r.Causes[i].ID)
	}
	if !slices.Equal(causes, []string{"cable-chafes:FR", "amplifier-away:wheels"}) {
		t.Errorf("causes %q", causes)
	}
	if len(r.Drives) != 1 || time.Duration(r.Drives[0].To-r.Drives[0].From) < whole-2*time.Minute {
		t.Errorf("drives %+v, want one over all of %v", r.Drives, whole)
	}
	if n := len(heap); n < 9 || heap[n-1] > heap[0]+heap[0]/4 {
		t.Errorf("held after each hour %v bytes, want no more in the end than in the beginning", heap)
	}
	var text bytes.Buffer
	if err := report.Text(&text, []daemon.Result{r}, report.Style{}); err != nil {
		t.Fatal(err)
	}
	const screen = 60
	if lines := strings.Count(text.String(), "\n"); lines > screen {
		t.Errorf("%d lines, want at most %d:\n%s", lines, screen, text.String())
	}
	for _, line := range []string{"driving since ", "FL drift fx", "FR cable-chafes", "FL amplifier-away"} {
		if !strings.Contains(text.String(), line) {
			t.Errorf("the text does not say %q:\n%s", line, text.String())
		}
	}
}
