package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
	"plumbline/bus/serialport"
)

// TestSerialOverflow: where a disk that is too slow costs bytes of a serial port, no packet comes out of the recording that
// was never sent. Lines without a checksum are the hardest: the beginning of one and the end of another are a line.
func TestSerialOverflow(t *testing.T) {
	d := newFake()
	var heard, given uint64
	synctest.Test(t, func(t *testing.T) {
		d.stall = func(n int) time.Duration {
			if n > 2 && n%6 == 0 {
				return 5 * time.Second
			}
			return 0
		}
		r, end := start(t, Config{Dir: "rec", Serial: []string{"optics"}, Queue: 4 * segmentSize, disk: d.disk()})
		line := func(n uint64) []byte { return fmt.Appendf(nil, "%07d;%07d;%07d;%07d\r", n, n, n, n) }
		var rest []byte
		for k := range 1500 {
			for len(rest) < 4000 {
				rest = append(rest, line(heard)...)
				heard++
			}
			n := 3000 + k%32 // chunks end anywhere in a line
			b := &bus.Batch{Chunks: []bus.Chunk{{At: epoch + int64(k)*1e7, Data: rest[:n]}}}
			if k%3 == 0 { // and a bus is heard as well
				b.Frames = []bus.Frame{{At: epoch + int64(k)*1e7, Source: 1}}
			}
			r.Write(b, []string{"optics", "wheels"})
			given += uint64(n)
			rest = rest[n:]
			time.Sleep(10 * time.Millisecond)
		}
		end()
	})
	sessions, err := Sessions(d.dump(t, false, nil))
	if err != nil || len(sessions) != 1 {
		t.Fatal(sessions, err)
	}
	src, err := Open(sessions[0].Parts)
	if err != nil {
		t.Fatal(err)
	}
	in := serialport.NewDecoder(src, func(name string) *serialport.Framer {
		if name != "optics" {
			return nil
		}
		f, err := serialport.NewFramer(serialport.Format{Framing: serialport.Lines})
		if err != nil {
			t.Fatal(err)
		}
		return f
	})
	defer in.Close()
	var b bus.Batch
	last, holes, lines := -1.0, 0, uint64(0)
	for {
		err := in.Read(&b)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := range b.Notes {
			if n := &b.Notes[i]; n.Kind == bus.Loss && in.Names()[n.Source] == "optics" {
				holes++
			}
		}
		for i := range b.Frames {
			f := &b.Frames[i]
			if in.Names()[f.Source] != "optics" {
				continue
			}
			lines++
			number := math.Float64frombits(binary.LittleEndian.Uint64(f.Data[:]))
			for p := f.Payload(); len(p) > 0; p = p[8:] {
				if got := math.Float64frombits(binary.LittleEndian.Uint64(p)); got != number || len(f.Payload()) != 32 {
					t.Fatalf("line %d was never sent: % X", lines, f.Payload())
				}
			}
			if number <= last {
				t.Fatalf("line %g comes after line %g", number, last)
			}
			last = number
		}
	}
	if s, _ := in.Stats(0); holes < 2 || s.Bytes == given || s.Garbage > 0 {
		t.Errorf("%d holes, %d of %d bytes recorded, %d thrown away; want holes and nothing thrown away", holes, s.Bytes, given, s.Garbage)
	}
	t.Logf("%d of %d lines, %d holes", lines, heard, holes)
}
