package pcapng_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

var files = []string{"can0.pcapng", "merged.pcapng", "sections.pcapng", "marks.pcapng", "dumpcap.pcapng", "can0-nano.pcap", "can0-micro.pcap"}

// TestCut cuts every recording at every byte: what is left is read, and one
// warning says what was dropped unless the cut falls between two blocks.
func TestCut(t *testing.T) {
	for _, file := range files {
		data := read(t, file)
		whole, _, err := everything(t, pcapng.NewReader("x", bytes.NewReader(data)), 256)
		if err != nil {
			t.Fatal(err)
		}
		reached := 0
		for n := range data {
			frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(data[:n])), 256)
			if err != nil {
				t.Fatalf("%s cut at byte %d: %v", file, n, err)
			}
			if len(frames) > len(whole) || !slices.Equal(frames, whole[:len(frames)]) {
				t.Fatalf("%s cut at byte %d: %d frames are not the first of the whole", file, n, len(frames))
			}
			if len(frames) < reached {
				t.Fatalf("%s cut at byte %d: %d frames, one byte less gave %d", file, n, len(frames), reached)
			}
			reached = len(frames)
			told := 0
			for _, note := range notes {
				if strings.Contains(note.Text, "the recording ends inside") {
					told++
				}
			}
			if want := boundary(data, n); (told == 0) != want || told > 1 {
				t.Fatalf("%s cut at byte %d: %d warnings of it, block boundary: %t", file, n, told, want)
			}
		}
		if reached < len(whole)-1 {
			t.Errorf("%s: one byte less gave %d frames of %d", file, reached, len(whole))
		}
	}
}

// boundary reports whether byte n lies between two blocks or records.
func boundary(data []byte, n int) bool {
	at := 0
	u32 := func(p []byte) int { return int(p[0]) | int(p[1])<<8 | int(p[2])<<16 | int(p[3])<<24 }
	if data[0] != 0x0A {
		at = 24
		for at < n {
			at += 16 + u32(data[at+8:])
		}
		return at == n || n == 0
	}
	for at < n {
		at += u32(data[at+4:])
	}
	return at == n
}

func TestDamage(t *testing.T) {
	const start = 48 // section 28, interface 20; a packet is 48
	base := func() []byte {
		b := little().section().iface(227)
		for n := range uint64(5) {
			b.packet(0, n, classic(0x123, byte(n)))
		}
		return b.out
	}
	tests := []struct {
		name   string
		damage func(p []byte) []byte
		want   []byte // first data byte of the frames that are left
		note   string
	}{
		{"length of zero", func(p []byte) []byte { p[start+48+4] = 0; return p }, []byte{0, 2, 3, 4}, "x: block 4 at byte 96 is damaged: 0 is not a possible length; 48 bytes skipped, up to the next whole block"},
		{
			"length of 4 GiB", func(p []byte) []byte { copy(p[start+48+4:], "\xFC\xFF\xFF\xFF"); return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96 is damaged: 4294967292 is not a possible length; 48 bytes skipped, up to the next whole block",
		},
		{
			"length past the end", func(p []byte) []byte { p[start+48+6] = 1; return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96 is damaged: the recording ends inside this block; 48 bytes skipped, up to the next whole block",
		},
		{
			"length of two blocks", func(p []byte) []byte { p[start+48+4] = 92; return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96 is damaged: its length is 92 at the front and 0 at the end; 48 bytes skipped, up to the next whole block",
		},
		{
			"length at the end", func(p []byte) []byte { p[start+96-4] = 9; return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96 is damaged: its length is 48 at the front and 9 at the end; 48 bytes skipped, up to the next whole block",
		},
		{
			"bytes missing", func(p []byte) []byte { return slices.Delete(p, start+60, start+67) },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96 is damaged: its length is 48 at the front and 12288 at the end; 41 bytes skipped, up to the next whole block",
		},
		{
			"NUL bytes between", func(p []byte) []byte { return slices.Insert(p, start+96, make([]byte, 3_000_000)...) },
			[]byte{0, 1, 2, 3, 4},
			"x: block 5 at byte 144 is damaged: 0 is not a possible length; 3000000 bytes skipped, up to the next whole block",
		},
		{
			"NUL bytes at the end", func(p []byte) []byte { return append(p, make([]byte, 5000)...) },
			[]byte{0, 1, 2, 3, 4},
			"x: block 8 at byte 288 is damaged: 0 is not a possible length; the last 5000 bytes hold no whole block and are dropped, the rest counts",
		},
		{
			"a recording appended to a cut one", func(p []byte) []byte { return append(p[:len(p)-5], base()...) },
			[]byte{0, 1, 2, 3, 0, 1, 2, 3, 4},
			"x: block 7 at byte 240 is damaged: its length is 48 at the front and 470420749 at the end; 43 bytes skipped, up to the next whole block",
		},
		{
			"captured length", func(p []byte) []byte { p[start+48+20] = 99; return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96: packet of interface 0 skipped: it claims 99 bytes and its block has room for 16",
		},
		{
			"captured length of 4 GiB", func(p []byte) []byte { copy(p[start+48+20:], "\xFF\xFF\xFF\xFF"); return p },
			[]byte{0, 2, 3, 4},
			"x: block 4 at byte 96: packet of interface 0 skipped: it claims 4294967295 bytes and its block has room for 16",
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(test.damage(base()))), 256)
			if err != nil {
				t.Fatal(err)
			}
			var got []byte
			for _, f := range frames {
				got = append(got, f.Data[0])
			}
			if !bytes.Equal(got, test.want) {
				t.Errorf("frames %v, want %v", got, test.want)
			}
			if len(notes) != 1 || notes[0].Text != test.note {
				t.Errorf("notes\n%+v, want\n%s", notes, test.note)
			}
		})
	}
}

// TestLostDescription: where an interface may have been lost, the numbers of
// those that follow mean nothing.
func TestLostDescription(t *testing.T) {
	b := little().section()
	b.iface(227, b.opt(2, []byte("can0"))).iface(227, b.opt(2, []byte("can1"))).iface(227, b.opt(2, []byte("can2")))
	b.packet(0, 0, classic(0x123, 0)).packet(1, 0, classic(0x123, 1)).packet(2, 0, classic(0x123, 2))
	b.out[28+28+4] = 1 // the length of can1
	r := pcapng.NewReader("x", bytes.NewReader(b.out))
	frames, notes, err := everything(t, r, 256)
	if err != nil {
		t.Fatal(err)
	}
	if len(frames) != 1 || frames[0].Data[0] != 0 {
		t.Errorf("frames %v, want that of can0 alone", frames)
	}
	if diff := cmp.Diff(r.Names(), []string{"can0"}); diff != "" {
		t.Errorf("names (-got +want):\n%s", diff)
	}
	if len(notes) != 4 {
		t.Errorf("%d notes, want 4 (damage, a description, two packets): %v", len(notes), notes)
	}
}

func TestClassicDamage(t *testing.T) {
	data := read(t, "can0-nano.pcap")
	frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(append(slices.Clone(data), make([]byte, 2_000_000)...))), 256)
	if err != nil || len(frames) != 9 || len(notes) != 1 ||
		notes[0].Text != "x: the recording ends in 2000000 NUL bytes from byte 424 on, as a power loss leaves them: dropped, the rest counts" {
		t.Errorf("NUL tail: %d frames, notes %v, error %v", len(frames), notes, err)
	}
	broken := slices.Clone(data)
	copy(broken[24+32+8:], "\xFF\xFF\xFF\x7F")
	frames, _, err = everything(t, pcapng.NewReader("x", bytes.NewReader(broken)), 256)
	want := "x: record 2 at byte 56 is damaged: what came before it was read, and nothing in a pcap tells where the next one begins"
	if len(frames) != 1 || err == nil || err.Error() != want {
		t.Errorf("damaged record: %d frames, error %v, want 1 and %s", len(frames), err, want)
	}
}

// TestWarningsAreBounded: damage everywhere does not fill the memory or the page.
func TestWarningsAreBounded(t *testing.T) {
	b := little().section().iface(227)
	for range 5000 {
		b.packet(0, 0, []byte{1})
	}
	r := pcapng.NewReader("x", bytes.NewReader(b.out))
	var batch bus.Batch
	var texts []string
	for {
		err := r.Read(&batch)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(batch.Notes) > 100 {
			t.Errorf("%d notes in a batch", len(batch.Notes))
		}
		for _, n := range batch.Notes {
			texts = append(texts, n.Text)
		}
	}
	if len(texts) != bus.MaxWarnings+1 || texts[len(texts)-1] != "x: 5000 warnings in all, the first 20 are listed" {
		t.Errorf("%d warnings, the last %q", len(texts), texts[len(texts)-1])
	}
}

// TestRandomDamage: whatever happens to a recording, nothing panics, and no
// frame appears twice.
func TestRandomDamage(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, file := range files {
		data := read(t, file)
		for range 400 {
			p := slices.Clone(data)
			for range 1 + random.IntN(4) {
				p[random.IntN(len(p))] = byte(random.Uint32())
			}
			frames, _, _ := everything(t, pcapng.NewReader("x", bytes.NewReader(p)), 7)
			if len(frames) > 20 {
				t.Fatalf("%s: %d frames out of at most 14", file, len(frames))
			}
		}
	}
}

// TestHugeLengthsDoNotAllocate: a few bytes cannot ask for memory.
func TestHugeLengthsDoNotAllocate(t *testing.T) {
	for _, n := range []uint32{1 << 20, 1<<32 - 4, 1 << 31, 1<<20 + 4} {
		p := little().section().iface(227).out
		p = append(p, 6, 0, 0, 0, byte(n), byte(n>>8), byte(n>>16), byte(n>>24), 1, 2, 3, 4)
		r := pcapng.NewReader("x", bytes.NewReader(p))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, notes, err := everything(t, r, 16)
		runtime.ReadMemStats(&after)
		if err != nil || len(notes) != 1 {
			t.Errorf("length %d: notes %v, error %v", n, notes, err)
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 1<<16 {
			t.Errorf("length %d: %d bytes allocated", n, used)
		}
	}
}

// TestResyncIsNotQuadratic feeds what costs a search most: every four bytes
// look like the start of a block. A minute would be the sign, not a second.
func TestResyncIsNotQuadratic(t *testing.T) {
	p := little().section().iface(227).out
	p = append(p, make([]byte, 12)...)
	for len(p) < 4<<20 {
		p = append(p, 6, 0, 0, 0, 0xFC, 0xFF, 0, 0)
	}
	_, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(p)), 16)
	if err != nil || len(notes) != 1 {
		t.Errorf("notes %v, error %v", notes, err)
	}
}

// endless repeats a block for ever.
type endless struct {
	block []byte
	left  int
	at    int
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := 0
	for n < len(p) {
		c := copy(p[n:], e.block[e.at:])
		n += c
		e.at = (e.at + c) % len(e.block)
	}
	n = min(n, e.left)
	e.left -= n
	return n, nil
}

// TestMemoryDoesNotGrow reads 48 MB and then 480 MB.
func TestMemoryDoesNotGrow(t *testing.T) {
	use := func(frames int) uint64 {
		head := little().section().iface(227).out
		block := little().packet(0, 1, classic(0x123, 1, 2, 3)).out
		r := pcapng.NewReader("x", io.MultiReader(bytes.NewReader(head), &endless{block: block, left: len(block) * frames}))
		batch := bus.Batch{}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		got := 0
		for {
			err := r.Read(&batch)
			if err != nil {
				break
			}
			got += len(batch.Frames)
		}
		runtime.ReadMemStats(&after)
		if got != frames {
			t.Errorf("%d frames, want %d", got, frames)
		}
		return after.TotalAlloc - before.TotalAlloc
	}
	small, large := use(1_000_000), use(10_000_000)
	if large > small+1<<16 {
		t.Errorf("1 million frames took %d bytes, 10 million %d", small, large)
	}
}

func ExampleReader() {
	b := little().section()
	b.iface(227, b.opt(2, []byte("can0")))
	b.packet(0, 1_700_000_000_000_000, classic(0x201, 0x10, 0x27), b.opt(1, []byte("turn FL")))
	r := pcapng.NewReader("drive.pcapng", bytes.NewReader(b.out))
	defer r.Close()
	var batch bus.Batch
	for r.Read(&batch) == nil {
		for _, n := range batch.Notes {
			fmt.Println(n.Text)
		}
		for _, f := range batch.Frames {
			fmt.Printf("%s %X %X\n", r.Names()[f.Source], f.ID, f.Payload())
		}
	}
	// Output:
	// turn FL
	// can0 201 1027
}
