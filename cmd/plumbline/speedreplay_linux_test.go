package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/gopacket/gopacket/pcapgo"
	"go.einride.tech/can"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/pcapng"
)

// replay is the program judging a recording, every check on.
func (s *speed) replay(name string, of *taped, file string) *runner {
	return &runner{name: name, frames: of.frames, run: func() finished {
		return process(s.t, exec.CommandContext(s.t.Context(), s.program, "replay", of.setup, file, "--format", "json"), "")
	}}
}

// recordings compares whole processes over one recording with can-utils' log2long, which reprints it.
func (s *speed) recordings() {
	s.long = tapeDrive(s.t, s.t.TempDir(), drive(4, 200), s.effort.frames, 1e6)
	s.long.pack(s.t)
	l := s.long
	listen := func(name, file string) *runner {
		return &runner{name: name, frames: l.frames, run: func() finished {
			return process(s.t, exec.CommandContext(s.t.Context(), s.program, "listen", file), "")
		}}
	}
	text, packets := s.replay("`plumbline replay` of candump text", l, l.log), s.replay("`plumbline replay` of pcapng", l, l.pcapng)
	list := []*runner{
		text, packets,
		s.replay("`plumbline replay` of candump text, zstd", l, l.zst),
		s.replay("`plumbline replay` of candump text, gzip", l, l.gz),
		s.replay("`plumbline replay` of pcapng, zstd", l, l.pcapngZs),
		listen("`plumbline listen` to candump text: no check", l.log),
		listen("`plumbline listen` to pcapng: no check", l.pcapng),
	}
	base := text
	tool, err := exec.LookPath("log2long")
	if err != nil {
		absent(s.t, "log2long (Debian package can-utils)")
	} else {
		base = &runner{name: "`log2long` (can-utils): text to text", frames: l.frames, run: func() finished {
			return process(s.t, exec.CommandContext(s.t.Context(), tool), l.log)
		}}
		list = append([]*runner{base}, list...)
	}
	contest(s.effort.rounds, list)
	out := s.sheet("Recordings", fmt.Sprintf("Whole processes over a recording of %s frames, four corners at 200 Hz: %.0f MB of text. `replay` judges with every\n"+
		"check on; `listen` reads and counts. Ratios are to the first row.", thousands(l.frames), float64(l.bytes)/1e6),
		"process", "wall, ns/frame", "CPU, ns/frame", "wall ratio", "CPU ratio", "million frames/s", "peak MiB")
	for _, r := range list {
		out.row(r.cells(base)...)
	}
	if base != text {
		wall, cpu := text.against(base)
		s.goal(wall <= 0.25, "replay of candump text: at most a quarter of log2long's time", "%.3f of it, wall (CPU %.2f)", wall, cpu)
		wall, cpu = packets.against(base)
		s.goal(wall <= 0.125, "replay of pcapng: at most an eighth of log2long's time, if it is to be twice as fast", "%.3f of it, wall (CPU %.2f)", wall, cpu)
	}
	wall, cpu := packets.against(text)
	s.goal(wall <= 0.5, "replay of pcapng: twice as fast as replay of text", "%.2f times as fast, wall (CPU %.2f): judging takes the time, on one goroutine for each recording", 1/wall, 1/cpu)
}

// absent says which program is not compared with; a CI machine has them all.
func absent(tb testing.TB, what string) {
	tb.Helper()
	if os.Getenv("CI") == "true" {
		tb.Errorf("missing: %s", what)
	}
	tb.Logf("missing: %s; it is not compared with", what)
}

func thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// readerEnv names the reader that a process of this very test program is to be.
const readerEnv = "PLUMBLINE_SPEED_READER"

// readings are what reads a recording and does nothing with it. Each returns how many frames there were.
func readings() map[string]func(io.Reader) (int, error) {
	frames := func(src bus.Source) (n int, err error) {
		var batch bus.Batch
		for {
			err := src.Read(&batch)
			if errors.Is(err, io.EOF) {
				return n, nil
			}
			if err != nil {
				return n, err
			}
			n += len(batch.Frames)
		}
	}
	return map[string]func(io.Reader) (int, error){
		"candump": func(r io.Reader) (int, error) { return frames(candump.NewReader("log", r)) },
		"pcapng":  func(r io.Reader) (int, error) { return frames(pcapng.NewReader("log", r)) },
		"einride": func(r io.Reader) (n int, err error) {
			for lines := bufio.NewScanner(r); lines.Scan(); n++ {
				line := lines.Text()
				var f can.Frame
				if err := f.UnmarshalString(line[strings.LastIndexByte(line, ' ')+1:]); err != nil {
					return n, err
				}
			}
			return n, nil
		},
		"gopacket": func(r io.Reader) (n int, err error) {
			packets, err := pcapgo.NewNgReader(r, pcapgo.NgReaderOptions{})
			if err != nil {
				return 0, err
			}
			for ; ; n++ {
				if _, _, err := packets.ZeroCopyReadPacketData(); errors.Is(err, io.EOF) {
					return n, nil
				} else if err != nil {
					return n, err
				}
			}
		},
	}
}

// TestSpeedReader is no test: in a process of its own it reads standard input and prints what that took, without the start
// of the process.
func TestSpeedReader(t *testing.T) {
	name := os.Getenv(readerEnv)
	if name == "" {
		t.Skip("is run by TestSpeed")
	}
	from, cpu := time.Now(), processorTime(t)
	n, err := readings()[name](os.Stdin)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Printf("read %d %d %d\n", n, time.Since(from), processorTime(t)-cpu)
}

// reader reads file in a process of its own.
func (s *speed) reader(name, kind, file string, frames int) *runner {
	return &runner{name: name, frames: frames, run: func() finished {
		c := exec.CommandContext(s.t.Context(), os.Args[0], "-test.run", "^TestSpeedReader$")
		c.Env = append(os.Environ(), readerEnv+"="+kind)
		var out strings.Builder
		c.Stdout = &out
		done := process(s.t, c, file)
		var n int
		if _, err := fmt.Sscanf(out.String(), "read %d %d %d", &n, &done.wall, &done.cpu); err != nil || n != frames {
			s.t.Fatalf("%s read %d frames of %d: %v\n%s", kind, n, frames, err, out.String())
		}
		return done
	}}
}

const pythonReader = "import sys, can\nn = 0\nfor m in can.LogReader(sys.argv[1]): n += 1\nassert n == int(sys.argv[2]), n"

// python is a Python that has python-can; empty: there is none.
func python(tb testing.TB) string {
	tb.Helper()
	for _, file := range []string{"/usr/bin/python3", "python3"} { // Debian's first, which has what Debian installs
		if exec.CommandContext(tb.Context(), file, "-c", "import can").Run() == nil {
			return file
		}
	}
	return ""
}

// readers compares readers alone, of the same file.
func (s *speed) readers() {
	l := s.long
	text := s.reader("plumbline's candump reader", "candump", l.log, l.frames)
	other := s.reader("einride's text parser behind bufio.Scanner: no times, no interfaces", "einride", l.log, l.frames)
	packets := s.reader("plumbline's pcapng reader", "pcapng", l.pcapng, l.frames)
	container := s.reader("gopacket's pcapgo.NgReader, zero copy: the container, no frames", "gopacket", l.pcapng, l.frames)
	list := []*runner{text, other, packets, container}
	if file := python(s.t); file != "" {
		short := tapeDrive(s.t, s.t.TempDir(), drive(4, 200), s.effort.frames/16, 1e6)
		list = append(list, &runner{name: fmt.Sprintf("python3-can's LogReader, a process, %s frames", thousands(short.frames)), frames: short.frames, run: func() finished {
			return process(s.t, exec.CommandContext(s.t.Context(), file, "-c", pythonReader, short.log, fmt.Sprint(short.frames)), "")
		}})
	} else {
		s.t.Log("missing: python3-can (Debian package python3-can); it is not compared with")
	}
	contest(s.effort.rounds, list)
	out := s.sheet("Readers alone", "The same files, read and thrown away; nothing is decoded or judged. Ratios are to the first row.",
		"reader", "wall, ns/frame", "CPU, ns/frame", "wall ratio", "CPU ratio", "million frames/s", "peak MiB")
	for _, r := range list {
		out.row(r.cells(text)...)
	}
	wall, cpu := packets.against(text)
	s.goal(cpu <= 0.5, "reading pcapng: twice as fast as reading text", "%.2f times as fast in CPU time (wall %.2f)", 1/cpu, 1/wall)
	wall, cpu = other.against(text)
	s.goal(cpu >= 1, "reading text: faster than einride's parser", "%.1f times as fast in CPU time (wall %.1f)", cpu, wall)
	wall, cpu = container.against(packets)
	s.goal(cpu >= 1, "reading pcapng: faster than gopacket's reader", "%.1f times as fast in CPU time (wall %.1f)", cpu, wall)
}
