package daemon

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"testing"

	"plumbline/bus"
)

// FuzzJudge: whatever is heard, in whatever order and at whatever time, nothing
// panics and the result is JSON that reads back to the same bytes.
func FuzzJudge(f *testing.F) {
	var steady []byte
	for _, frame := range wheel(40) {
		steady = binary.BigEndian.AppendUint32(steady, 10_000)
		steady = append(steady, 0, frame.Len)
		steady = append(steady, frame.Data[:8]...)
	}
	f.Add(steady)
	f.Add([]byte{})
	f.Add(bytes.Repeat([]byte{0xff}, 200))
	f.Fuzz(func(t *testing.T, data []byte) {
		var (
			frames []bus.Frame
			notes  []bus.Note
			at     = start
		)
		for r := bytes.NewReader(data); ; {
			var in struct {
				StepMicros  int32
				Kind, Count uint8
				Data        [8]byte
			}
			if binary.Read(r, binary.BigEndian, &in) != nil {
				break
			}
			at += int64(in.StepMicros) * 1000
			fr := bus.Frame{At: at, ID: 256, Len: in.Count % 9, Source: uint16(in.Kind >> 6)}
			copy(fr.Data[:fr.Len], in.Data[:])
			switch in.Kind % 8 {
			case 1:
				fr.ID = uint32(in.Data[0])
			case 2:
				fr.Flags = bus.Error
			case 3:
				fr.Flags = bus.Remote
			case 4:
				notes = append(notes, bus.Note{Before: len(frames), At: at, Kind: bus.NoteKind(in.Count % 3), Source: fr.Source, Count: uint64(in.Data[1]) << (in.Data[2] % 64), Text: string(in.Data[:])})
			}
			frames = append(frames, fr)
		}
		j := bench(t).Judge("fuzz.log")
		_ = j.Run(t.Context(), &memory{names: []string{"can0", "can1", "can2"}, frames: frames, notes: notes})
		r := j.Result()
		var first, second bytes.Buffer
		if err := Encode(&first, []Result{r}); err != nil {
			t.Fatal(err)
		}
		var back Result
		if err := json.Unmarshal(first.Bytes(), &back); err != nil {
			t.Fatal(err)
		}
		if err := Encode(&second, []Result{back}); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first.Bytes(), second.Bytes()) {
			t.Errorf("first\n%s\nsecond\n%s", &first, &second)
		}
		if r.Captures[0].Frames != uint64(len(frames)) {
			t.Errorf("got %d frames, want %d", r.Captures[0].Frames, len(frames))
		}
	})
}
