package main

import (
	"fmt"

	"plumbline/bus/simulated"
)

// three is a vehicle whose three wheels are heard over an adapter each.
func three() simulated.Config { return resting(3, 3) }

// one is a vehicle with one wheel, as a row needs it that is not about how much is sent.
func one() simulated.Config { return resting(1, 1) }

// sourceFaults are those of the way in: every order in which three adapters can be pulled and plugged in again.
func sourceFaults() []fault {
	var out []fault
	for _, order := range orders() {
		names := []string{"front left", "front right", "rear left"}
		out = append(out, fault{
			name:    fmt.Sprintf("adapters pulled: %s, %s, %s", names[order[0]], names[order[1]], names[order[2]]),
			how:     "three serial adapters are unplugged in this order, in the middle of a frame, and come back under the same path, in all six orders one after the other",
			vehicle: three,
			says: []saying{
				{inFinding, "has been unplugged or has lost its power: plug it in"},
				{inMetrics, `plumbline_source_link_state{source="bus-fl",state="absent"}`},
			},
			make: func(tr *trial) { pullInOrder(tr, order) },
		})
	}
	return out
}

// orders are all orders of three.
func orders() [][]int {
	return [][]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}}
}

func pullInOrder(tr *trial, order []int) {
	tr.begins()
	for _, back := range orders() {
		for _, k := range order {
			w := tr.wires[k]
			tr.settle(w) // what is in the cable when it is pulled nobody could count
			w.unplug(tr.T, wirePath(tr.dir, w.source))
			tr.until(w.source+" to be missed", func(l *look) bool {
				return l.metrics[fmt.Sprintf(`plumbline_source_link_state{source=%q,state="absent"}`, w.source)] == 1
			})
		}
		tr.hears(tr.fault.says...)
		for _, k := range back {
			w := tr.wires[k]
			tr.plug(w)
			tr.awaitOpen(w)
			w.speak()
		}
	}
	tr.ends()
}
