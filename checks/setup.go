package checks

// Quantity is what a channel measures.
type Quantity uint8

// The quantities, in the order in which results list them.
const (
	Fx Quantity = iota
	Fy
	Fz
	Mx
	My
	Mz
	Angle
	Spin
	Temperature
	Supply
	Status
	Serial
	Counter
	HeightOuter
	HeightInner
	HeightThird
	Camber
	SpeedX
	SpeedY
	Slip
	Quantities // how many there are
)

// String returns the name that setup files and results use.
func (q Quantity) String() string {
	if q >= Quantities {
		return "unknown"
	}
	return [...]string{
		"fx", "fy", "fz", "mx", "my", "mz", "angle", "spin", "temperature", "supply", "status", "serial", "counter",
		"height_outer", "height_inner", "height_third", "camber", "speed_x", "speed_y", "slip",
	}[q]
}

// None marks a channel that is not fitted.
const None int32 = -1

// Channels holds for each quantity the dense index of its channel, or None.
type Channels [Quantities]int32

// NoChannels returns Channels with nothing fitted.
func NoChannels() Channels {
	var c Channels
	for q := range c {
		c[q] = None
	}
	return c
}

// Setup is all that the checks need to know of a vehicle and its wiring.
// It is not changed after New.
type Setup struct {
	MassKg    float64   // whole vehicle; 0: not known
	Sources   []string  // names, in the order of the setup file
	Messages  []Message // what can arrive, by dense index
	Channels  []Channel // by dense index
	Corners   []Corner
	Optics    []Optic
	Limits    Limits
	TurnOrder []int // indexes into Corners; empty: not given
}

// Message is a message that is expected on a source.
type Message struct {
	Name   string
	Source int     // index into Setup.Sources
	Period float64 // s between two of them; 0: not known
	Length int     // bytes that its description declares; 0: not known
}

// Channel is one decoded signal.
type Channel struct {
	Name     string // message.signal, for sentences
	Quantity Quantity
	Message  int       // index into Setup.Messages
	Step     float64   // raw step in SI; 0: none (floating point)
	Low      float64   // SI value at the lower end of the raw range; Low = High = 0: no ends (floating point)
	High     float64   // SI value at the upper end
	Min, Max float64   // SI range that its description states, Min < Max; 0, 0: none
	Good     []float64 // Status: values that mean well; empty: {0}
	// Named are the values that the description says mean no value ("not available",
	// "error", …); of a Status all that it names.
	Named []NamedValue
}

// NamedValue is a value that has a text.
type NamedValue struct {
	Value float64 // SI, as the channel delivers it
	Text  string
}

// ForceFrame says in which axes an amplifier sends the forces.
type ForceFrame uint8

// The force frames.
const (
	Rotating ForceFrame = iota // turning with the wheel
	Fixed                      // already resolved with the transmitted angle
)

// Side is the side of the vehicle.
type Side uint8

// The sides.
const (
	Left Side = iota
	Right
)

// Corner is one wheel position with a transducer.
type Corner struct {
	Name        string
	Axle        int // from 1 at the front
	Side        Side
	Forces      ForceFrame
	AngleCounts int     // encoder counts per revolution; 0: not known
	Bolts       int     // wheel bolts; 0: not known
	WheelMassKg float64 // everything outboard of the measuring element; 0: not known
	OverhangM   float64 // centre of gravity of that mass along the axle, positive outward
	LoadN       float64 // static contact load; 0: not known
	Tyre        string  // designation after UN Regulation No. 30; empty: not known
	Serial      uint64  // expected serial number
	HasSerial   bool
	Channels    Channels
}

// OpticKind is the kind of an optical sensor.
type OpticKind uint8

// The kinds of optical sensor.
const (
	CamberBar OpticKind = iota
	GroundSpeed
)

// Optic is an optical sensor.
type Optic struct {
	Name                string
	Kind                OpticKind
	Corner              int     // index into Corners; -1: belongs to the vehicle
	BaselineM           float64 // between the outer and the inner height
	BaselineThirdM      float64 // of the third height, along the vehicle; 0: none
	ClearanceM          float64
	ClearanceToleranceM float64
	Channels            Channels
}
