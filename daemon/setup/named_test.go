package setup

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"plumbline/checks"
)

// By hand from the DBC text: value = scale of the setup · (raw · factor + offset), kN to N.
func TestStatedRangeAndNamedValues(t *testing.T) {
	const yaml = `
vehicle: One wheel
sources: [{name: hub, can: can0, dbc: [hub.dbc]}]
corners:
  - name: HUB
    axle: 1
    side: left
    forces: fixed
    load_n: 5000
    channels:
      fx: H.Fx
      fy: {signal: H.Fy, sign: -1}
      fz: H.Fz
      supply: H.Volt
      status: H.State
`
	const dbc = `VERSION ""
BO_ 256 H: 8 X
 SG_ Fx : 0|16@1- (0.001,0) [-20|20] "kN" X
 SG_ Fy : 16|16@1- (0.001,0) [-5|20] "kN" X
 SG_ Fz : 32|16@1- (0.001,0) [0|0] "kN" X
 SG_ Volt : 48|8@1+ (0.2,1) [0|0] "V" X
 SG_ State : 56|8@1+ (1,0) [0|0] "" X
VAL_ 256 Fx -32768 "not available" 32767 "Sensor_Error" 0 "zero" ;
VAL_ 256 Fy 32767 "SNA" 1 "no error" ;
VAL_ 256 Volt 255 "Signal invalid" ;
VAL_ 256 State 0 "ok" 4 "sensor fault" ;
`
	s, err := Parse("setup.yaml", []byte(yaml), func(string) ([]byte, error) { return []byte(dbc), nil })
	if err != nil {
		t.Fatal(err)
	}
	type row struct {
		Min, Max float64
		Named    []checks.NamedValue
	}
	for _, c := range []struct {
		quantity checks.Quantity
		want     row
	}{
		{checks.Fx, row{-20_000, 20_000, []checks.NamedValue{{Value: -32768, Text: "not available"}, {Value: 32767, Text: "Sensor_Error"}}}},
		{checks.Fy, row{-20_000, 5_000, []checks.NamedValue{{Value: -32767, Text: "SNA"}}}},
		{checks.Fz, row{}},
		{checks.Supply, row{0, 0, []checks.NamedValue{{Value: 52, Text: "Signal invalid"}}}},
		{checks.Status, row{0, 0, []checks.NamedValue{{Value: 0, Text: "ok"}, {Value: 4, Text: "sensor fault"}}}},
	} {
		t.Run(c.quantity.String(), func(t *testing.T) {
			ch := s.Checks.Channels[s.Checks.Corners[0].Channels[c.quantity]]
			got := row{ch.Min, ch.Max, ch.Named}
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(1e-12, 0), cmpopts.SortSlices(func(a, b checks.NamedValue) bool { return a.Value < b.Value })); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestMeansNoValue(t *testing.T) {
	for text, want := range map[string]bool{
		"not available": true, "Not_Available": true, "n/a": true, "SNA": true, "sna": true, "error": true, "Sensor error": true, "invalid": true,
		"INVALID_SIGNAL": true, "fault": true, "no signal": true, "NaN": true,
		"ok": false, "no error": false, "No fault": false, "nasal": false, "zero": false, "": false, "forward": false,
	} {
		if got := meansNoValue(text); got != want {
			t.Errorf("%q: %t, want %t", text, got, want)
		}
	}
}
