package simulated_test

import (
	"fmt"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

func Example() {
	cfg := simulated.Standard(4)
	fault, err := simulated.ParseFault("zero:FL=115")
	if err != nil {
		fmt.Println(err)
		return
	}
	cfg.Faults = []simulated.Fault{fault}
	vehicle, err := simulated.New(cfg)
	if err != nil {
		fmt.Println(err)
		return
	}
	var batch bus.Batch
	frames := 0
	for vehicle.Read(&batch) == nil {
		frames += len(batch.Frames)
	}
	fmt.Println(vehicle.Names(), vehicle.Duration().Round(1e9), frames > 300_000)
	fmt.Println(vehicle.Truth().Corners[0].Zero[2], "N")
	// Output:
	// [can0] 1m54s true
	// 115 N
}

func ExampleParseFault() {
	_, err := simulated.ParseFault("angle-ofset:FL=3")
	fmt.Println(err)
	// Output:
	// simulated: fault "angle-ofset": no such kind, the nearest is "angle-offset"
}
