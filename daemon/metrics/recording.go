package metrics

import (
	"plumbline/daemon/record"
)

// disabled is the state of a recorder that is not there.
const disabled = "disabled"

func recordingState(k *sink) {
	if k.snapshot == nil {
		return
	}
	is := disabled
	if r := k.recording(); r != nil {
		is = r.State.String()
	}
	k.flag(is == disabled, disabled)
	for _, s := range []record.State{record.Waiting, record.Recording, record.Stopped, record.Closed} {
		k.flag(is == s.String(), s.String())
	}
}

// recorded puts what the recorder tells, where there is one.
func recorded(k *sink, value func(*record.Stats) float64) {
	if r := k.recording(); r != nil {
		k.put(value(r))
	}
}

func recordingBytes(k *sink) {
	recorded(k, func(r *record.Stats) float64 { return float64(r.Bytes) })
}

func recordingParts(k *sink) {
	recorded(k, func(r *record.Stats) float64 { return float64(r.Parts) })
}

func recordingFree(k *sink) {
	if r := k.recording(); r != nil && r.FreeOK {
		k.put(float64(r.Free))
	}
}

func recordingReserve(k *sink) {
	recorded(k, func(r *record.Stats) float64 { return float64(r.Reserve) })
}

func recordingStops(k *sink) {
	recorded(k, func(r *record.Stats) float64 { return float64(r.Stops) })
}

func recordingRemoved(k *sink) {
	recorded(k, func(r *record.Stats) float64 { return float64(r.Removed) })
}
