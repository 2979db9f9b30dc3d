package daemon

import (
	"math"

	"plumbline/checks"
	"plumbline/daemon/setup"
)

// SerialFrom says where a serial number comes from.
type SerialFrom string

// Where it comes from.
const (
	SerialSent  SerialFrom = "sent"  // by the electronics themselves
	SerialSetup SerialFrom = "setup" // written in the setup, and not contradicted
	SerialNone  SerialFrom = ""      // it is not known
)

// Transducer says which transducer sat on a corner, and what its turns were judged by.
type Transducer struct {
	Corner       string     `json:"corner"`
	Axle         int        `json:"axle"` // from 1 at the front
	Side         string     `json:"side"` // left or right: on the right it is mounted mirrored
	Serial       *uint64    `json:"serial,omitempty"`
	SerialFrom   SerialFrom `json:"serial_from"`
	Forces       string     `json:"forces"`                       // rotating or fixed
	WheelMassKg  float64    `json:"wheel_mass_kg,omitzero"`       // 0: not known
	AngleCounts  int        `json:"angle_counts,omitzero"`        // per revolution; 0: not known
	LowestTempC  *float64   `json:"temperature_low_c,omitempty"`  // while it was heard
	HighestTempC *float64   `json:"temperature_high_c,omitempty"` // while it was heard
}

// transducers lists those of a setup, of which nothing has been heard yet.
func transducers(s *setup.Setup) []Transducer {
	out := make([]Transducer, 0, len(s.Checks.Corners))
	for i := range s.Checks.Corners {
		c := &s.Checks.Corners[i]
		t := Transducer{Corner: c.Name, Axle: c.Axle, Side: "left", Forces: "rotating", WheelMassKg: finite(c.WheelMassKg), AngleCounts: c.AngleCounts}
		if c.Forces == checks.Fixed {
			t.Forces = "fixed"
		}
		if c.Side == checks.Right {
			t.Side = "right"
		}
		if c.HasSerial {
			t.Serial, t.SerialFrom = new(c.Serial), SerialSetup
		}
		out = append(out, t)
	}
	return out
}

// heard takes what the electronics told; the number that they send counts more than the written one.
func (t *Transducer) heard(s *checks.Seen) {
	if s.HasSerial {
		t.Serial, t.SerialFrom = new(s.Serial), SerialSent
	}
	if low, high := s.TemperatureC[0], s.TemperatureC[1]; s.HasTemperature && !math.IsNaN(low+high) && !math.IsInf(low+high, 0) {
		t.LowestTempC, t.HighestTempC = new(low), new(high)
	}
}
