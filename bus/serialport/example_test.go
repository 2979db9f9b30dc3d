package serialport_test

import (
	"fmt"

	"plumbline/bus"
	"plumbline/bus/dbc"
	"plumbline/bus/serialport"
)

// A layout file describes the lines of a sensor; what arrives becomes frames, and these values.
func Example() {
	const layout = `
messages:
  - name: Camber
    tag: CAM
    fields:
      - {name: Outer, unit: mm}
      - {name: Inner, unit: mm}
`
	format, file, err := serialport.ParseLayout("camber.yaml", []byte(layout), serialport.Format{Framing: serialport.Lines})
	if err != nil {
		fmt.Println(err)
		return
	}
	framer, err := serialport.NewFramer(format)
	if err != nil {
		fmt.Println(err)
		return
	}
	camber := file.Find("Camber")
	plan, err := dbc.Compile([]dbc.Binding{
		{Message: camber, Signal: camber.Find("Outer"), Channel: 0, Scale: 0.001},
		{Message: camber, Signal: camber.Find("Inner"), Channel: 1, Scale: 0.001},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	var b bus.Batch
	b.Reset()
	framer.Feed(0, 0, []byte("2,199.1\r\nCAM,201.2,198.7\r\nCAM,201.3,198.8\r\n"), &b)
	for i := range b.Frames {
		values, _ := plan.Decode(plan.Lookup(&b.Frames[i]), &b.Frames[i], nil)
		fmt.Printf("%.4f m, %.4f m\n", values[0].Value, values[1].Value)
	}
	fmt.Println(framer.Stats().Joined, "bytes of a line whose beginning was missed")
	// Output:
	// 0.2012 m, 0.1987 m
	// 0.2013 m, 0.1988 m
	// 8 bytes of a line whose beginning was missed
}
