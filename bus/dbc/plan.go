package dbc

// Binding wants one signal as one channel.
type Binding struct {
	Source  uint16   // Frame.Source on which the message is heard
	Message *Message // with its Signals complete: switches are looked up there
	Signal  int      // index into Message.Signals
	Channel int32    // dense index given back with each value
	Scale   float64  // delivered value = Scale·physical + Offset: unit to SI, sign and the user's own factor in one
	Offset  float64  // of the delivered value, in its unit
	PGN     bool     // match J1939-style: by parameter group number, any source address and priority
}

// State tells whether a raw value was at an end of its range.
type State uint8

// The states of a value.
const (
	Inside State = iota
	AtLow        // lowest raw value that the signal can carry
	AtHigh       // highest raw value
)

// Value is one decoded channel value.
type Value struct {
	Channel int32
	State   State
	Value   float64 // NaN or infinite only where a float signal carried that
}
