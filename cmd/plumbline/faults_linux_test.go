package main

import (
	"maps"
	"os"
	"strings"
	"sync"
	"testing"
	"unicode"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// fault is a row of the table: what is done to the real program, what must be said of it, and what may be lost.
type fault struct {
	name  string
	how   string // it is made, for the table
	says  []saying
	loses string // where frames may be lost, each counted there: places of bus.Loss; empty: nowhere
	note  string // what the table must say beside that

	vehicle    func() simulated.Config
	rate       int                 // frames/s, filled up with such as the setup does not name; 0: those of the wheels alone
	setup      func(string) string // changes the setup
	env        []string            // of the program
	can        string              // interface; "": serial adapters
	illAtFirst bool                // the fault stands before the program starts
	uncounted  bool                // what is lost cannot be counted: nobody was there
	losesLine  bool                // if the line has room for all of it the fault was none
	losesSome  bool                // if nothing is lost the fault was none
	survives   bool                // of what the recorder had to count as lost the disk may have some
	prepare    func(*trial)        // before the program starts
	make       func(*trial)        // makes the fault and ends it
}

// saying is something that is said, and where a person or a machine finds it.
type saying struct {
	where place
	words string
}

type place string

const (
	inLog     place = "log"
	inFinding place = "page" // a failing finding, a cause or a warning, as page and result show it
	inMetrics place = "metrics"
)

// losses is what may be lost, for people.
func (f *fault) losses() string {
	if f.loses == "" {
		return "nothing"
	}
	return f.loses
}

// key is the name as that of a test, and of its folder.
func (f *fault) key() string {
	return strings.Join(strings.FieldsFunc(f.name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "-")
}

// placeName is where a frame was lost, in the words of the metrics.
func placeName(p bus.Place) string {
	switch p {
	case bus.Controller:
		return "controller"
	case bus.Driver:
		return "driver"
	case bus.Queue:
		return "queue"
	case bus.Ring:
		return "ring"
	case bus.Recorder:
		return "recorder"
	case bus.Somewhere:
	}
	return "somewhere"
}

// TestFaults tries every fault of the table on the real program. For each: all that was sent is recorded or counted as
// lost, nothing heard before the fault is missing, nothing is shown as good that is not, it is said, and all is well
// again. What came out is daemon/FAULTS.md; -update writes it.
//
//	go test ./cmd/plumbline -run TestFaults -parallel 8
func TestFaults(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds for each fault")
	}
	if os.Getenv("PLUMBLINE_GUEST") != "" {
		faultsInGuest(t)
		return
	}
	file := os.Getenv("PLUMBLINE_FAULTS_PROGRAM")
	if file == "" {
		file = programFile(t)
	}
	var mu sync.Mutex
	outcomes := map[string]*outcome{}
	t.Run("rows", func(t *testing.T) {
		t.Run("guest", func(t *testing.T) {
			t.Parallel()
			found := bootFaults(t, file)
			mu.Lock()
			defer mu.Unlock()
			maps.Copy(outcomes, found)
			for _, f := range guestFaults() {
				if found[f.name] == nil {
					t.Errorf("%s: nothing came of it", f.name)
				}
			}
		})
		for _, f := range faults() {
			t.Run(f.key(), func(t *testing.T) {
				t.Parallel() // each waits most of the time
				out := try(t, &f, file)
				mu.Lock()
				defer mu.Unlock()
				outcomes[f.name] = out
			})
		}
	})
	if !t.Failed() {
		documentFaults(t, outcomes)
	}
}

// try makes a fault and returns what came of it.
func try(t *testing.T, f *fault, file string) *outcome {
	t.Helper()
	tr := begin(t, f, file)
	f.make(tr)
	tr.untilWell()
	return tr.finish()
}

// faults is the table.
func faults() []fault {
	var all []fault
	all = append(all, sourceFaults()...)
	all = append(all, diskFaults()...)
	all = append(all, loadFaults()...)
	return all
}
