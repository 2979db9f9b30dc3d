package serialport

import (
	"slices"
	"testing"

	"plumbline/bus"
)

// silentDevices is every framing as a device sends it that has no checksum: what is joined wrongly looks whole.
func silentDevices() map[string]Format {
	return map[string]Format{
		"packets, no checksum": {Framing: Packets, Sync: []byte{0xAA, 0x55}, Length: 6},
		"stated, no checksum":  {Framing: Packets, Sync: []byte{0xA5}, LengthField: &LengthField{Field: Field{Size: 1}}},
		"cobs, no checksum":    {Framing: COBS},
		"slip, no checksum":    {Framing: SLIP},
	}
}

// TestBytesMissing: wherever bytes of a recording are missing, and however many, what is heard again are packets that were
// sent, in their order, each once, and the line is found again.
func TestBytesMissing(t *testing.T) {
	all := devices()
	for name, format := range silentDevices() {
		dev := all["packets"]
		dev.format, dev.payload = format, func(i int) []byte { return []byte{6, byte(0x10 + i), 3, 4, byte(0x20 + i), 6} }
		all[name] = dev
	}
	const packets, near = 40, 5 // the hole lies among the first of them; a false beginning behind it may swallow some
	for name, dev := range all {
		t.Run(name, func(t *testing.T) {
			var line []byte
			var ends []int
			for i := range packets {
				line = append(line, wire(&dev.format, dev.payload(i))...)
				ends = append(ends, len(line))
			}
			whole, _ := cut(t, dev.format, string(line))
			sent := whole.frames
			for i := range sent {
				sent[i].At, sent[i].Source = 0, 0
			}
			for from := ends[0]; from <= ends[near-2]; from++ {
				for to := from + 1; to <= ends[near-1]; to++ {
					d := NewDecoder(&played{batches: []bus.Batch{
						{Chunks: []bus.Chunk{{At: 5, Data: line[:from]}}},
						// the clock was set back meanwhile: places count, not times
						{Notes: []bus.Note{{At: 9, Kind: bus.Loss, Place: bus.Recorder}}, Chunks: []bus.Chunk{{At: 3, Data: line[to:]}}},
					}}, func(string) *Framer { return newFramer(t, dev.format) })
					b := bus.Batch{Frames: make([]bus.Frame, 0, 2)}
					var h heard
					for d.Read(&b) == nil {
						h.take(&b)
					}
					told := 0
					for _, n := range h.raw {
						switch n.Kind {
						case bus.Loss:
							told++
						case bus.Garbage:
							t.Fatalf("bytes %d to %d missing: %s, though the line had no fault", from, to, n.Text)
						default:
						}
					}
					if told != 1 {
						t.Fatalf("bytes %d to %d missing: losses told %d times, want once: %q", from, to, told, h.notes)
					}
					next := 0
					for i := range h.frames {
						f := h.frames[i]
						f.At = 0
						k := slices.Index(sent[next:], f)
						if k < 0 {
							t.Fatalf("bytes %d to %d missing: %q was never sent, or not then", from, to, dump(h.frames[i:i+1]))
						}
						next += k + 1
					}
					// all packets from the second whole one on are due again, but those that a false beginning in the middle of one has swallowed
					if missing := len(sent) - len(h.frames); missing > 2*near+2 {
						t.Fatalf("bytes %d to %d missing: %d of %d packets are not heard", from, to, missing, len(sent))
					}
					if last := len(h.frames) - 1; last < 0 || h.frames[last].Data != sent[len(sent)-1].Data {
						t.Fatalf("bytes %d to %d missing: the last packet is not heard", from, to)
					}
					balanced(t, d.framer(0))
				}
			}
		})
	}
}
