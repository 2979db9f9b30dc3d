package daemon

import (
	"plumbline/bus"
	"plumbline/bus/dbc"
	"plumbline/checks"
)

// What the bus says, in the words of the checks: the two know nothing of each other.

func stateOf(s dbc.State) checks.State {
	switch s {
	case dbc.AtLow:
		return checks.AtLow
	case dbc.AtHigh:
		return checks.AtHigh
	case dbc.Inside:
	}
	return checks.Inside
}

func placeOf(p bus.Place) checks.Place {
	switch p {
	case bus.Controller:
		return checks.LostController
	case bus.Driver:
		return checks.LostDriver
	case bus.Queue:
		return checks.LostQueue
	case bus.Ring:
		return checks.LostRing
	case bus.Recorder:
		return checks.LostRecorder
	case bus.Somewhere:
	}
	return checks.LostSomewhere
}

func linkOf(l bus.Link) checks.LinkState {
	switch l {
	case bus.Absent:
		return checks.LinkAbsent
	case bus.Down:
		return checks.LinkDown
	case bus.Silent:
		return checks.LinkSilent
	case bus.ErrorActive:
		return checks.LinkActive
	case bus.ErrorWarning:
		return checks.LinkWarning
	case bus.ErrorPassive:
		return checks.LinkPassive
	case bus.BusOff:
		return checks.LinkBusOff
	case bus.NoValidFrame:
		return checks.LinkNoValidFrame
	case bus.LinkUnknown:
	}
	return checks.LinkUnknown
}

// busyNs is how long a frame takes of a bus with these nominal and data bit rates, at the most.
func busyNs(f *bus.Frame, rates [2]uint32) int64 {
	nominal, data := f.Bits()
	ns := int64(nominal) * 1e9 / int64(rates[0])
	if data > 0 {
		ns += int64(data) * 1e9 / int64(max(rates[1], rates[0]))
	}
	return ns
}
