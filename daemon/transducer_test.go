package daemon

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon/setup"
)

// TestTransducers: what the electronics send counts more than what is written down, and each says which it is.
func TestTransducers(t *testing.T) {
	s := &setup.Setup{Checks: checks.Setup{Corners: []checks.Corner{
		{Name: "FL", WheelMassKg: 34, AngleCounts: 2048, Serial: 40117, HasSerial: true},
		{Name: "FR", Axle: 1, Side: checks.Right, Forces: checks.Fixed, Serial: 40118, HasSerial: true},
		{Name: "RL"},
	}}}
	got := transducers(s)
	got[0].heard(&checks.Seen{Serial: 50001, HasSerial: true, TemperatureC: [2]float64{20, 25}, HasTemperature: true})
	got[1].heard(&checks.Seen{TemperatureC: [2]float64{math.NaN(), 25}, HasTemperature: true})
	want := []Transducer{
		{Corner: "FL", Side: "left", Serial: new(uint64(50001)), SerialFrom: SerialSent, Forces: "rotating", WheelMassKg: 34, AngleCounts: 2048, LowestTempC: new(20.0), HighestTempC: new(25.0)},
		{Corner: "FR", Axle: 1, Side: "right", Serial: new(uint64(40118)), SerialFrom: SerialSetup, Forces: "fixed"},
		{Corner: "RL", Side: "left", Forces: "rotating"},
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}
