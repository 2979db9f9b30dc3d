package dashboards

import (
	"strings"
	"testing"
	"time"

	"plumbline/bus/simulated"
)

// dataSpeed is how fast the vehicles of TestPanelsHaveData go: a function test and a drive are five minutes.
const dataSpeed = 24

// needsLongDrive selects what is compared at the stops of a drive, of which five minutes hold too few.
const needsLongDrive = `plumbline_corner_drift_ratio{instance=~"$instance",corner=~"$corner",channel="noise"}`

// TestPanelsHaveData has a real Prometheus, with the rules as they are written, scrape two vehicles during function test and drive. One has
// faults: each panel of each board must have data of it. The other has none: no alarm is raised for it.
func TestPanelsHaveData(t *testing.T) {
	t.Parallel()
	tool(t, "prometheus", "prometheus")
	faulty, clean := vehicleOf("Minibus 7", 4), vehicleOf("Van 3", 4)
	bad := prepared(t, faulty, dataSpeed, "zero:FL=115", "drift:RR=150", "angle-offset:FR=2", "drag:RR=22", "bus-errors=0.5", "bus-drops", "off:RL=220")
	good := prepared(t, clean, dataSpeed)
	store := prometheusOf(t, "500ms", "127.0.0.1:1", bad, good)
	began := time.Now()
	bad.begin()
	good.begin()
	select {
	case <-bad.done:
	case <-time.After(4 * time.Minute):
		t.Fatal("the drive does not end")
	}
	time.Sleep(time.Second) // what was seen last is scraped and put into rules
	ended := time.Now()
	step := 250 * time.Millisecond
	for _, b := range Boards() {
		for _, s := range b.sections {
			for _, p := range s.panels {
				for _, q := range p.queries {
					got, err := store.ask(t, filled(q.expr, bad), began, ended, step)
					if err != nil {
						t.Errorf("%s, %s: %v\n%s", b.Name, p.title, err, q.expr)
					} else if len(got) == 0 && !strings.Contains(q.expr, needsLongDrive) {
						t.Errorf("%s, %s: no data\n%s", b.Name, p.title, q.expr)
					}
				}
			}
		}
		for _, a := range marks(t, &b) {
			if got, err := store.ask(t, filled(a, bad), began, ended, step); err != nil || len(got) == 0 {
				t.Errorf("%s, mark %s: %d series, %v", b.Name, a, len(got), err)
			}
		}
	}
	for _, r := range records() {
		if got, err := store.ask(t, r.Record, began, ended, step); err != nil || len(got) == 0 {
			t.Errorf("%s: %d series, %v", r.Record, len(got), err)
		}
	}
	alarms, err := store.ask(t, `ALERTS{alertstate="firing",vehicle="`+good.vehicle+`"}`, began, ended, step)
	if err != nil || len(alarms) > 0 {
		t.Errorf("alarms of a vehicle on which nothing is wrong: %v, %v", alarms, err)
	}
	if *pictures != "" {
		draw(t, store, bad, began, ended)
	}
}

func marks(t *testing.T, b *Board) []string {
	t.Helper()
	d, err := b.build()
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, a := range d.Annotations.List {
		if a.Expr != nil {
			out = append(out, *a.Expr)
		}
	}
	return out
}

// vehicleOf is a vehicle that is function-tested and then driven.
func vehicleOf(name string, corners int) simulated.Config {
	c := simulated.Standard(corners)
	c.Name, c.RateHz, c.Marks = name, 100, true
	script, err := c.Preset("drive")
	if err != nil {
		panic(err) // the name is a constant
	}
	c.Script = script
	return c
}
