package main

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/pcapng"
	"plumbline/bus/simulated"
)

// taped is one drive as files: the same frames as text, as pcapng, and packed.
type taped struct {
	name              string // what it is an example of
	frames            int
	bytes             int64 // of the text
	setup             string
	log, pcapng       string
	zst, gz, pcapngZs string // empty where it was not asked for
}

// drive is a vehicle of which one wheel is function-tested, and which is then driven for hours: the same however many
// corners it has.
func drive(corners int, hz float64) simulated.Config {
	cfg := simulated.Standard(corners)
	cfg.RateHz, cfg.JitterS = hz, 0
	cfg.TurnOrder = []string{cfg.Corners[0].Name}
	cfg.Script = append(cfg.Function(), simulated.Road(240)...)
	return cfg
}

// tapeDrive writes a vehicle's drive, with its setup, into dir: so many frames or so many seconds, whichever ends first.
func tapeDrive(tb testing.TB, dir string, cfg simulated.Config, frames int, seconds float64) *taped {
	tb.Helper()
	t := &taped{setup: filepath.Join(dir, "setup.yaml"), log: filepath.Join(dir, "drive.log"), pcapng: filepath.Join(dir, "drive.pcapng")}
	write := func(name, text string) {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			tb.Fatal(err)
		}
	}
	write(t.setup, cfg.SetupYAML())
	for _, f := range cfg.DBCs() {
		write(filepath.Join(dir, f.Name), f.Text)
	}
	src, err := simulated.New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	text, packets := newFile(tb, t.log), newFile(tb, t.pcapng)
	lines := candump.NewWriter(text, src.Names())
	block := pcapng.AppendSection(nil, &pcapng.Section{Program: program()})
	for _, name := range src.Names() {
		block = pcapng.AppendInterface(block, pcapng.CAN, name)
	}
	var batch bus.Batch
	end := simulated.DefaultStart + int64(seconds*1e9)
	for n := 0; n < frames; {
		if err := src.Read(&batch); err != nil {
			tb.Fatalf("the drive is too short: %d frames: %v", n, err)
		}
		if batch.Frames[0].At > end {
			break
		}
		for i := range batch.Frames[:min(len(batch.Frames), frames-n)] {
			f := &batch.Frames[i]
			if err := lines.Write(f); err != nil {
				tb.Fatal(err)
			}
			block = pcapng.AppendFrame(block, uint32(f.Source), f)
			if _, err := packets.Write(block); err != nil {
				tb.Fatal(err)
			}
			block = block[:0]
			n++
		}
		t.frames = n
	}
	if err := lines.Flush(); err != nil {
		tb.Fatal(err)
	}
	text.finish(tb)
	packets.finish(tb)
	info, err := os.Stat(t.log)
	if err != nil {
		tb.Fatal(err)
	}
	t.bytes = info.Size()
	return t
}

// pack packs both files as people do.
func (t *taped) pack(tb testing.TB) {
	tb.Helper()
	zst := func(w io.Writer) (io.WriteCloser, error) { return zstd.NewWriter(w) }
	gz := func(w io.Writer) (io.WriteCloser, error) { return gzip.NewWriter(w), nil }
	t.zst, t.gz, t.pcapngZs = t.log+".zst", t.log+".gz", t.pcapng+".zst"
	for _, p := range []struct {
		from, to string
		packer   func(io.Writer) (io.WriteCloser, error)
	}{{t.log, t.zst, zst}, {t.log, t.gz, gz}, {t.pcapng, t.pcapngZs, zst}} {
		in, err := os.Open(p.from)
		if err != nil {
			tb.Fatal(err)
		}
		out := newFile(tb, p.to)
		w, err := p.packer(out)
		if err != nil {
			tb.Fatal(err)
		}
		if _, err := io.Copy(w, in); err != nil {
			tb.Fatal(err)
		}
		if err := w.Close(); err != nil {
			tb.Fatal(err)
		}
		out.finish(tb)
		_ = in.Close() // was only read
	}
}

// written is a file that is being written, through a buffer.
type written struct {
	*bufio.Writer
	file *os.File
}

func newFile(tb testing.TB, name string) written {
	tb.Helper()
	f, err := os.Create(name)
	if err != nil {
		tb.Fatal(err)
	}
	return written{bufio.NewWriterSize(f, 1<<20), f}
}

func (w written) finish(tb testing.TB) {
	tb.Helper()
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	if err := w.file.Close(); err != nil {
		tb.Fatal(err)
	}
}

// one is the first frame of a recording.
func (t *taped) one(tb testing.TB) *taped {
	tb.Helper()
	text, err := os.Open(t.log)
	if err != nil {
		tb.Fatal(err)
	}
	defer text.Close()
	line, err := bufio.NewReader(text).ReadBytes('\n')
	if err != nil {
		tb.Fatal(err)
	}
	one := &taped{frames: 1, bytes: int64(len(line)), setup: t.setup, log: t.log + ".one.log"}
	if err := os.WriteFile(one.log, line, 0o600); err != nil {
		tb.Fatal(err)
	}
	return one
}
