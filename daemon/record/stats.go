package record

import "time"

// State says whether the recorder records.
type State uint8

// The states of a recorder.
const (
	Waiting   State = iota // for something to record
	Recording              // a part is being written
	Stopped                // Stats.Why says why; what is heard meanwhile is kept as long as there is memory, then lost
	Closed                 // for good
)

// String returns the state in one word.
func (s State) String() string {
	switch s {
	case Waiting:
		return "waiting"
	case Recording:
		return "recording"
	case Stopped:
		return "stopped"
	case Closed:
		return "closed"
	}
	return "unknown"
}

// Stats says how a recorder stands. Nobody changes it once it was handed out.
type Stats struct {
	State   State
	Why     string    // for Stopped: a sentence, lower case, no full stop
	Full    bool      // Stopped because the disk is almost full, and not by an error
	Since   time.Time // when it came into this state, by the clock of the machine
	Dir     string    // folder of the parts
	Session string    // that is being recorded: the beginning of the names of its parts
	Part    string    // path of the part being written; "" where there is none
	Parts   int       // of this recorder, with something in them
	Bytes   int64     // on disk of this recorder, safe
	Frames  uint64    // safe on disk; the sum of Written
	Lost    uint64    // frames heard but not recorded; the sum of Lost[bus.Recorder]
	Free    uint64    // bytes free on the disk; 0 with FreeOK false: not known
	FreeOK  bool      // Free is known
	Reserve uint64    // bytes below which recording stops
	Stops   int       // how often recording was stopped by the disk
	Removed int       // old parts and cut-outs removed to keep the bound
	Cuts    int       // cut-outs in the folder: what was heard around failures in parts that are gone
	Aside   []string  // files called like a part that are left alone
	Sources []Balance // in the order of their names
}
