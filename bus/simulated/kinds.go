package simulated

import "math"

// Subject says what a kind of fault befalls.
type Subject string

// The subjects of faults.
const (
	OneCorner     Subject = "corner"       // FL
	TwoCorners    Subject = "two corners"  // FL,RR
	AnyCorners    Subject = "corners"      // FL or FL,FR or nothing: all
	OneCamber     Subject = "camber"       // a corner with a camber bar, or the name of the bar
	OneRoad       Subject = "ground speed" // the name of the sensor, or nothing: the first
	OneOptic      Subject = "optic"        // either
	OneBus        Subject = "bus"          // can0, or nothing: the first
	CornerOrOptic Subject = "corner or optic"
)

// Kind describes one kind of fault.
type Kind struct {
	Name    string
	Check   string // the check that should speak up, by the names of results
	Doc     string // what is the matter; V stands for the value
	Subject Subject
	Unit    string  // of the value; empty: a plain number
	Default float64 // of the value
	Min     float64 // bounds of the value
	Max     float64
	NoValue bool // the value has no meaning
}

// Kinds lists every kind of fault, by the group of the check that it is for.
func Kinds() []Kind {
	inf := math.Inf(1)
	kinds := []Kind{
		{"silent", "alive", "no message of it arrives", CornerOrOptic, "", 0, 0, 0, true},
		{"silent-forces", "alive", "the message with the forces does not arrive", OneCorner, "", 0, 0, 0, true},
		{"silent-moments", "alive", "the message with the moments does not arrive", OneCorner, "", 0, 0, 0, true},
		{"silent-angle", "alive", "the message with the angle does not arrive", OneCorner, "", 0, 0, 0, true},
		{"silent-state", "alive", "the message with temperature, supply and serial number does not arrive", OneCorner, "", 0, 0, 0, true},
		{"lost", "alive", "a share V of its frames is lost, anywhere", CornerOrOptic, "", 0.05, 0, 1, false},
		{"gap", "alive", "nothing of it arrives for V seconds, every twenty seconds", CornerOrOptic, "s", 0.8, 0, 19, false},
		{"counter", "alive", "every second its message counter jumps by V", OneCorner, "", 20, 1, 254, false},
		{"slow", "alive", "its messages come V times as often as they should", CornerOrOptic, "", 0.5, 0.01, 1, false},
		{"off", "alive", "the amplifier sends nothing for it from V seconds after the start", AnyCorners, "s", 0, 0, inf, false},
		{"late", "alive", "the amplifier begins V seconds late", AnyCorners, "s", 6, 0, inf, false},
		{"reboot", "alive", "the amplifier is away for V seconds at half time and counts anew", AnyCorners, "s", 2, 0, inf, false},
		{"bus-errors", "bus", "V error frames per second", OneBus, "1/s", 5, 0.001, 10_000, false},
		{"bus-drops", "bus", "V frames are lost in the receive queue, every ten seconds", OneBus, "", 40, 1, 1e6, false},
		{"bit-rate", "bus", "the bit rate is wrong: error frames, V per second, and nothing else", OneBus, "1/s", 50, 0.001, 10_000, false},
		{"identity", "identity", "the serial number is V", OneCorner, "", 99_999, 0, math.MaxUint32, false},
		{"harness", "placement", "the harnesses of two corners are exchanged: all messages", TwoCorners, "", 0, 0, 0, true},
		{"angle-cable", "placement", "the angle cables of two corners are exchanged", TwoCorners, "", 0, 0, 0, true},
		{"force-cable", "placement", "the force cables of two corners are exchanged", TwoCorners, "", 0, 0, 0, true},
		{"copy", "placement", "the second corner shows the forces and moments of the first, sample for sample", TwoCorners, "", 0, 0, 0, true},

		{"zero", "zero", "Fz of the rotating axes reads V without load", OneCorner, "N", 115, -inf, inf, false},
	}
	for i, name := range components() {
		k := Kind{"zero-" + name, "zero", name + " of the rotating axes reads V without load", OneCorner, "N", 115, -inf, inf, false}
		if i >= mx {
			k.Unit, k.Default = "N·m", 25
		}
		kinds = append(kinds, k)
	}
	kinds = append(kinds,
		Kind{"weight", "weight", "the radial forces read V times too large", OneCorner, "", 1.12, 0.001, 1000, false},
		Kind{"axes", "axes", "one radial axis reads V more than the other, relative", OneCorner, "", 0.08, -1, 1, false},
		Kind{"axes-angle", "axes", "the radial axes are V away from a right angle", OneCorner, "°", 4, -45, 45, false},
		Kind{"drag", "drag", "friction about the axle is V", OneCorner, "N·m", 22, 0, inf, false},
		Kind{"rub", "coupling", "the pick-up ring rubs at one place of each turn with up to V", OneCorner, "N·m", 30, 0, inf, false},

		Kind{"angle-offset", "angle-offset", "the transmitted angle is V ahead of the true one", OneCorner, "°", 3, -180, 180, false},
		Kind{"bolts", "angle-offset", "the wheel is mounted V bolt holes round", OneCorner, "holes", 1, -20, 20, false},
		Kind{"angle-sense", "angle-sense", "the angle counts backward", OneCorner, "", 0, 0, 0, true},
		Kind{"mirror", "angle-sense", "the x axis of forces and moments counts the wrong way", OneCorner, "", 0, 0, 0, true},
		Kind{"angle-steps", "angle-steps", "the angle has V counts per revolution", OneCorner, "", 256, 2, 65536, false},
		Kind{"angle-jumps", "angle-jumps", "the angle jumps by V, to and fro every ten seconds", OneCorner, "°", 20, -180, 180, false},
		Kind{"angle-slip", "angle-slip", "counts worth V are lost in each revolution", OneCorner, "°", 2, -90, 90, false},
		Kind{"angle-stuck", "angle-stuck", "the angle stands still from V seconds after the start", OneCorner, "s", 0, 0, inf, false},
		Kind{"angle-spin", "angle-spin", "the speed channel reads V times too fast", OneCorner, "", 1.1, -1000, 1000, false},
		Kind{"skew", "skew", "the angle is V seconds older than the forces", OneCorner, "s", 0.012, -1, 1, false},
		Kind{"coupling", "coupling", "near one place of each turn a share V of its frames is lost", OneCorner, "", 0.4, 0, 1, false},
		Kind{"chafe", "coupling", "its cable chafes: near one place of each turn a share V of its frames is lost while the wheel rolls on the ground", OneCorner, "", 0.4, 0, 1, false},
		Kind{"chafe-steering", "coupling", "its cable chafes: in curves to the left a share V of its frames is lost", OneCorner, "", 0.1, 0, 1, false},
		Kind{"coupling-noise", "coupling", "near one place of each turn the forces are noisy: V (RMS)", OneCorner, "N", 150, 0, inf, false},

		Kind{"frozen", "frozen", "Fz stands still from V seconds after the start", OneCorner, "s", 0, 0, inf, false})
	for _, name := range components() {
		kinds = append(kinds, Kind{"frozen-" + name, "frozen", name + " stands still from V seconds after the start", OneCorner, "s", 0, 0, inf, false})
	}
	return append(kinds,
		Kind{"clipped", "clipped", "the amplifier's range for forces ends at V", OneCorner, "N", 3000, 1, inf, false},
		Kind{"range", "range", "a loose contact: Fz jumps to V of the message's range now and then", OneCorner, "", 0.95, -1, 1, false},
		Kind{"noise", "noise", "white noise V (RMS) on the forces, a fifth of the figure in N·m on the moments", OneCorner, "N", 80, 0, inf, false},
		Kind{"spikes", "spikes", "single samples of a force are far off, V per minute", OneCorner, "1/min", 60, 0, 1e6, false},
		Kind{"hum", "hum", "50 Hz of amplitude V on the forces, a fifth of the figure in N·m on the moments", OneCorner, "N", 45, 0, inf, false},
		Kind{"status", "status", "the status is V", OneCorner, "", 4, 0, 255, false},
		Kind{"supply", "supply", "the supply voltage is V", OneCorner, "V", 8.2, 0, 600, false},
		Kind{"supply-dip", "supply", "the supply voltage falls to V now and then", OneCorner, "V", 6, 0.01, 600, false},
		Kind{"temperature", "temperature", "the electronics are at V", OneCorner, "°C", 96, -200, 1000, false},

		Kind{"load", "load", "the wheel carries V times what the setup says", OneCorner, "", 1.25, 0.01, 10, false},
		Kind{"radius", "radius", "the tyre rolls as if its radius were V times what the setup says", OneCorner, "", 1.08, 0.1, 10, false},

		Kind{"camber", "camber", "the bar's own camber signal is off by V", OneCamber, "°", 1.5, -20, 20, false},
		Kind{"clearance", "clearance", "the bar is mounted V too high", OneCamber, "m", 0.08, -0.15, 0.1, false},
		Kind{"dropout", "dropout", "a share V of its values is invalid", OneOptic, "", 0.1, 0, 1, false},
		Kind{"rest-speed", "rest-speed", "the sensor shows V where nothing moves", OneRoad, "m/s", 0.4, -10, 10, false},
		Kind{"slip", "slip", "the sensor is mounted V round", OneRoad, "°", 3, -45, 45, false},

		Kind{"drift", "drift", "the zero of Fx moves by V during the drive (Mx by a tenth of the figure in N·m)", OneCorner, "N", 180, -inf, inf, false},
		Kind{"drift-fy", "drift", "the zero of Fy moves by V during the drive", OneCorner, "N", 250, -inf, inf, false},
		Kind{"drift-my", "drift", "the zero of My moves by V during the drive", OneCorner, "N·m", 60, -inf, inf, false},
		Kind{"drift-noise", "drift", "white noise on the forces grows to V (RMS) during the drive, a fifth of the figure in N·m on the moments", OneCorner, "N", 80, 0, inf, false},
		Kind{"drift-rate", "drift", "ever more of its frames are lost, up to a share V at the end of the drive", CornerOrOptic, "", 0.1, 0, 1, false},
		Kind{"drift-temperature", "drift", "the electronics warm by V during the drive", OneCorner, "K", 120, -500, 1000, false},
		Kind{"drift-height", "drift", "the bar slips up by V during the drive", OneCamber, "m", 0.08, -0.15, 0.1, false},
	)
}

// components returns the names of the six components, in the order of all arrays.
func components() [6]string { return [6]string{"fx", "fy", "fz", "mx", "my", "mz"} }
