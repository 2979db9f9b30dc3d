package candump_test

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"plumbline/bus"
	"plumbline/bus/candump"
)

func ExampleReader() {
	log := `# rig: bench, four corners
(1436509052.249713)  can0 201#1027F0D800007FFF
# mark: turn FL
(1436509052.250713) vcan1 18FF1021#0011.2233
(1436509052.250) vcan1 18FF1021#001
`
	r := candump.NewReader("bench.log", strings.NewReader(log))
	defer r.Close()

	var batch bus.Batch
	for {
		err := r.Read(&batch)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, f := range batch.Frames {
			fmt.Printf("%d %s %X % X\n", f.At, r.Names()[f.Source], f.ID, f.Payload())
		}
		for _, n := range batch.Notes {
			fmt.Printf("before frame %d: %s\n", n.Before, n.Text)
		}
	}
	// Output:
	// 1436509052249713000 can0 201 10 27 F0 D8 00 00 7F FF
	// 1436509052250713000 vcan1 18FF1021 00 11 22 33
	// before frame 1: turn FL
	// before frame 2: bench.log:5: expected pairs of hex digits at column 35, found "1"; line skipped
}

func ExampleWriter() {
	w := candump.NewWriter(os.Stdout, []string{"can0"})
	f := bus.Frame{At: 1436509052_249713000, ID: 0x201, Len: 2}
	f.Data[0], f.Data[1] = 0x10, 0x27
	if err := errors.Join(w.Mark("turn FL"), w.Write(&f), w.Flush()); err != nil {
		fmt.Println(err)
	}
	// Output:
	// # mark: turn FL
	// (1436509052.249713) can0 201#1027
}
