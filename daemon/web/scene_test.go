package web

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// scene is a simulated function test, as a row of snapshots.
type scene struct {
	snapshots []*daemon.Snapshot
	began     int64 // ns
}

// scenes keeps what was simulated: it is only read.
var scenes struct {
	sync.Mutex
	made map[string]*scene
}

// newScene simulates the whole test of a vehicle with so many corners and faults, ten snapshots a second.
func newScene(tb testing.TB, corners int, faults ...string) *scene {
	tb.Helper()
	return newScript(tb, simulated.Standard(corners), faults...)
}

// newScript simulates what the script of a vehicle says.
func newScript(tb testing.TB, cfg simulated.Config, faults ...string) *scene {
	tb.Helper()
	scenes.Lock()
	defer scenes.Unlock()
	key := fmt.Sprint(cfg, faults)
	if sc, ok := scenes.made[key]; ok {
		return sc
	}
	for _, text := range faults {
		f, err := simulated.ParseFault(text)
		if err != nil {
			tb.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	v, err := simulated.New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	s, err := setup.Parse("demo.yaml", []byte(cfg.SetupYAML()), cfg.ReadFile)
	if err != nil {
		tb.Fatal(err)
	}
	bench, err := daemon.NewBench(s, "plumbline test")
	if err != nil {
		tb.Fatal(err)
	}
	sc := &scene{}
	j := bench.Judge("demo")
	j.KeepWindows()
	last := int64(0)
	look := func(at int64) {
		if sc.began == 0 {
			sc.began = at
		}
		if at-last >= int64(250*time.Millisecond) {
			last = at
			sc.snapshots = append(sc.snapshots, &daemon.Snapshot{At: at, Clock: at, Result: j.Result(), Now: j.Now(), Setup: s})
		}
	}
	j.Grid = look
	if err := j.Run(context.Background(), v); err != nil {
		tb.Fatal(err)
	}
	if scenes.made == nil {
		scenes.made = map[string]*scene{}
	}
	scenes.made[key] = sc
	return sc
}

// at returns the snapshot at so many seconds of the test; beyond its end the last one.
func (sc *scene) at(seconds float64) *daemon.Snapshot {
	for _, s := range sc.snapshots {
		if float64(s.At-sc.began)*1e-9 >= seconds {
			return s
		}
	}
	return sc.snapshots[len(sc.snapshots)-1]
}

// stage is a source of snapshots that a test directs.
type stage struct {
	now atomic.Pointer[daemon.Snapshot]
}

func (st *stage) snapshot() *daemon.Snapshot { return st.now.Load() }

// play shows a scene up to so many seconds, each snapshot once.
func (st *stage) play(s *Server, sc *scene, seconds float64) {
	for _, snap := range sc.snapshots {
		if float64(snap.At-sc.began)*1e-9 > seconds {
			return
		}
		st.now.Store(snap)
		s.refresh()
	}
}

// again stores a copy, which is news with the same content.
func (st *stage) again() {
	if s := st.now.Load(); s != nil {
		c := *s
		st.now.CompareAndSwap(s, &c) // else there is news already
	}
}

func newStage(tb testing.TB, cfg Config) (*stage, *Server) {
	tb.Helper()
	st := &stage{}
	cfg.Snapshot = st.snapshot
	s, err := New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	return st, s
}
