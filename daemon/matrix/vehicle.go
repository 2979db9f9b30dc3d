package matrix

import (
	"fmt"
	"math"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// rateHz is how often forces, moments and angles come: about as seldom as 60 Hz can be seen in them.
const rateHz = 130

// golden is the share of the golden section: its multiples cover an interval evenly without repeating.
const golden = 0.6180339887

// script is what is done with the vehicle.
type script uint8

const (
	brief     script = iota // a function test as short as the checks allow
	rested                  // the same after half a minute at rest
	waited                  // twelve and a half minutes at rest, and nothing else
	straight                // four and a half minutes straight ahead, and nothing else
	long                    // the same for ten
	stops                   // a function test and 32 stops
	manyStops               // the same with 64 of them
	curved                  // curves to the left and to the right
	short                   // the simulator's own short function test
	roaded                  // the same, then three minutes of road
)

// vehicle is one kind of vehicle and what is done with it. It is comparable.
type vehicle struct {
	corners      int
	fixed        bool
	differential bool // the opposite wheel of a driven axle turns backward when one is turned
	script       script
}

func (v vehicle) String() string {
	text := fmt.Sprintf("%d %s", v.corners, v.frame())
	if v.differential {
		text += ", differential"
	}
	return text
}

func (v vehicle) frame() string {
	if v.fixed {
		return "fixed"
	}
	return "rotating"
}

// config returns the simulation of one run.
func (v vehicle) config(seed uint64, faults []simulated.Fault) simulated.Config {
	c := simulated.Standard(v.corners)
	c.Seed, c.Faults, c.RateHz, c.Differential = seed, faults, rateHz, v.differential
	c.Marks = seed%2 == 0 // with a person's word and without
	for i := range c.Corners {
		c.Corners[i].Fixed = v.fixed
	}
	switch v.script {
	case brief:
		c.Script = briefly(&c, 3.8)
	case rested:
		c.Script = briefly(&c, 30)
	case waited:
		c.RateHz = 50
		c.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 750}}
	case straight:
		c.RateHz = 50
		c.Script = []simulated.Phase{
			{Kind: simulated.Rest, Seconds: 3},
			{Kind: simulated.Drive, SpeedMps: 5, Seconds: straightS, Roughness: 0.3},
			{Kind: simulated.Drive},
			{Kind: simulated.Rest, Seconds: 3},
		}
	case long:
		c.RateHz = 100
		c.Script = []simulated.Phase{
			{Kind: simulated.Rest, Seconds: 3},
			{Kind: simulated.Drive, SpeedMps: 5, Seconds: longS, Roughness: 0.3},
			{Kind: simulated.Drive},
			{Kind: simulated.Rest, Seconds: 3},
		}
	case stops, manyStops:
		c.RateHz = 50
		c.Script = briefly(&c, 10)
		n := 32
		if v.script == manyStops {
			n = 64
		}
		for k := range n {
			// Nobody stops on the millimetre: legs of one length would let the encoder's rounding creep through a count.
			_, more := math.Modf(float64(k) * golden)
			c.Script = append(c.Script,
				simulated.Phase{Kind: simulated.Drive, SpeedMps: 2.5, RampSeconds: 1, Seconds: 0.8 + 0.4*more},
				simulated.Phase{Kind: simulated.Drive, RampSeconds: 1},
				simulated.Phase{Kind: simulated.Rest, Seconds: 3.6})
		}
	case curved:
		c.RateHz = 100
		c.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 3}, {Kind: simulated.Drive, SpeedMps: 5, Seconds: 4}}
		for range 2 {
			for _, yaw := range [2]float64{1.2, -1.2} {
				c.Script = append(c.Script,
					simulated.Phase{Kind: simulated.Drive, SpeedMps: 5, Seconds: 7, YawRad: yaw},
					simulated.Phase{Kind: simulated.Drive, SpeedMps: 5, Seconds: 4})
			}
		}
		c.Script = append(c.Script, simulated.Phase{Kind: simulated.Drive}, simulated.Phase{Kind: simulated.Rest, Seconds: 1})
	case short:
		c.Script = c.FunctionShort()
	case roaded:
		c.Script = append(c.FunctionShort(), simulated.Road(3)...)
	}
	return c
}

// How long the speed is held, s.
const (
	straightS = 260
	longS     = 604
)

// briefly returns the brief function test: each piece as long as the evidence of some check takes.
func briefly(c *simulated.Config, restS float64) []simulated.Phase {
	s := []simulated.Phase{{Kind: simulated.Rest, Seconds: restS}, {Kind: simulated.Lift, Seconds: 1.5}, {Kind: simulated.Rest, Seconds: 1.2}}
	for i := range c.Corners {
		s = append(s, simulated.Phase{Kind: simulated.Turn, Corner: c.Corners[i].Name, Turns: 3.3})
	}
	return append(s,
		simulated.Phase{Kind: simulated.Lower, Seconds: 1.5}, simulated.Phase{Kind: simulated.Rest, Seconds: 4.2},
		simulated.Phase{Kind: simulated.Drive, SpeedMps: 1.5, Seconds: 5.5}, simulated.Phase{Kind: simulated.Drive},
		simulated.Phase{Kind: simulated.Rest, Seconds: 1})
}

// bench prepares the judging of a vehicle. Its setup says nothing of faults or seeds.
func (v vehicle) bench() (*daemon.Bench, error) {
	c := v.config(1, nil)
	s, err := setup.Parse("matrix.yaml", []byte(c.SetupYAML()), c.ReadFile)
	if err != nil {
		return nil, fmt.Errorf("matrix: %w", err)
	}
	return daemon.NewBench(s, "matrix")
}

// framesPerS is how many frames a second a healthy vehicle sends.
func (v vehicle) framesPerS() float64 {
	c := v.config(1, nil)
	const statesPerS, opticsPerS = 10, 100
	return float64(len(c.Corners))*(3*c.RateHz+statesPerS) + float64(len(c.Optics))*opticsPerS
}
