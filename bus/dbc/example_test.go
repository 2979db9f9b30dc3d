package dbc_test

import (
	"fmt"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

func Example() {
	file, err := dbc.Parse("wheel.dbc", []byte(`
BO_ 528 Wheel: 8 Amp
 SG_ Fx : 7|16@0- (0.001,0) [-20|20] "kN" Log
 SG_ Fz : 23|16@0- (0.001,0) [-20|20] "kN" Log
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	wheel := file.Find("Wheel")
	fz := wheel.Find("Fz")
	unit, _ := dbc.Unit(wheel.Signals[fz].Unit)
	plan, err := dbc.Compile([]dbc.Binding{{Message: wheel, Signal: fz, Channel: 3, Scale: unit.Factor, Offset: unit.Offset}})
	if err != nil {
		fmt.Println(err)
		return
	}

	frame := bus.Frame{ID: 528, Len: 8, Data: [bus.MaxData]byte{2: 0x1F, 3: 0x40}}
	if message := plan.Lookup(&frame); message >= 0 {
		values, _ := plan.Decode(message, &frame, nil)
		fmt.Println(values[0].Channel, values[0].Value, unit.SI)
	}
	// Output: 3 8000 N
}
