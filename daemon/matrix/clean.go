package matrix

import (
	"context"
	"slices"

	"plumbline/daemon"
)

// CleanRow is one kind of vehicle on which nothing is wrong.
type CleanRow struct {
	Vehicle string // corners and frame
	Runs    int
	Failed  int // runs in which anything failed or a cause was named
	Open    int // runs of a whole function test in which something required stayed open
	Notes   []string
}

// roadEach is how many seeds come to one that drives as well.
const roadEach = 10

// cleanVehicles are the vehicles on which nothing is wrong.
func cleanVehicles() []vehicle {
	var out []vehicle
	for _, fixed := range [2]bool{false, true} {
		for _, n := range [5]int{1, 2, 4, 6, 8} {
			out = append(out, vehicle{corners: n, fixed: fixed})
		}
		out = append(out, vehicle{corners: 4, fixed: fixed, differential: true})
	}
	return out
}

// Clean tries vehicles on which nothing is wrong.
func Clean(ctx context.Context, c Config) ([]CleanRow, error) {
	c, err := c.withDefaults()
	if err != nil {
		return nil, err
	}
	vehicles := cleanVehicles()
	rows := make([]CleanRow, len(vehicles))
	var jobs []job
	var row []int
	for i, v := range vehicles {
		rows[i].Vehicle = v.String()
		for n := range c.Clean {
			w := v
			w.script = short
			if n%roadEach == roadEach-1 {
				w.script = roaded
			}
			jobs = append(jobs, job{vehicle: w, seed: uint64(n + 1)})
			row = append(row, i)
		}
	}
	type outcome struct {
		failed string
		open   []string
	}
	outcomes := make([]outcome, len(jobs))
	err = c.runAll(ctx, jobs, func(i int, r *daemon.Result) {
		outcomes[i] = outcome{blamed(r, nil), slices.Clone(r.Open)}
	})
	if err != nil {
		return nil, err
	}
	for i := range outcomes {
		o, r := &outcomes[i], &rows[row[i]]
		r.Runs++
		note := func(text string) {
			if len(r.Notes) < 3 {
				r.Notes = append(r.Notes, jobs[i].where()+": "+text)
			}
		}
		if o.failed != "" {
			r.Failed++
			note(o.failed)
		}
		if len(o.open) > 0 {
			r.Open++
			if o.failed == "" {
				note("open: " + o.open[0])
			}
		}
	}
	return rows, nil
}
