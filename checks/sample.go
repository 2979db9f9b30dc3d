package checks

// State tells whether a raw value was at an end of its range.
type State uint8

// The states of a sample.
const (
	Inside State = iota
	AtLow        // lowest raw value that the signal can carry
	AtHigh       // highest raw value
)

// Sample is one value of one channel, at the time of its message. Where judging keeps up with a
// disk they are handed from one processor to another: small counts.
type Sample struct {
	Channel int32 // dense index into Setup.Channels
	State   State
	Value   float64 // SI; NaN or infinite only where the sensor sent that
}
