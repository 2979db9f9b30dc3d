package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// feed has a device send what packet makes, every 4 ms until the test ends or the port is gone.
func feed(t *testing.T, to *os.File, packet func(i int) []byte) {
	t.Helper()
	stop := make(chan struct{})
	var done sync.WaitGroup
	done.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			case <-time.After(4 * time.Millisecond):
			}
			_ = to.SetWriteDeadline(time.Now().Add(100 * time.Millisecond))
			if _, err := to.Write(packet(i)); err != nil && !os.IsTimeout(err) {
				return
			}
		}
	})
	t.Cleanup(func() { close(stop); done.Wait() })
}

// forces are the frames of listenDBC's first message, as an slcan adapter spells them.
func forces(i int) []byte {
	f := bus.Frame{ID: 0x100, Len: 4}
	binary.BigEndian.PutUint16(f.Data[:], uint16(200+i%100))
	binary.BigEndian.PutUint16(f.Data[2:], uint16(65536-200-i%100))
	return slcan(nil, &f)
}

// TestListenSerial: live over the terminal driver, for a time, decoded; the link is told as it changes.
func TestListenSerial(t *testing.T) {
	yard(t, map[string]string{"drive.dbc": listenDBC})
	master, slave := pseudoTerminal(t)
	feed(t, master, forces)
	began := time.Now()
	got := call(t, "listen", slave, "--baud", "115200", "--framing", "slcan", "--dbc", "drive.dbc", "--for", "1600ms")
	if took := time.Since(began); took < 1500*time.Millisecond || took > 4*time.Second {
		t.Errorf("took %v, want 1.6 s", took)
	}
	if got.code != 0 {
		t.Errorf("exit code %d", got.code)
	}
	short := strings.TrimPrefix(slave, "/dev/")
	for _, want := range []string{
		"Interfaces", short + ": valid packets arrive", "What happened", "100  FL_Forces", "now",
		short + "  FL_Forces.Fx", "to  149.5  N",
	} {
		if !strings.Contains(got.out, want) {
			t.Errorf("no %q", want)
		}
	}
	if !strings.Contains(got.errors, "plumbline: valid packets arrive\n") {
		t.Errorf("standard error: got %q, want the link as it changed", got.errors)
	}
	if t.Failed() {
		t.Logf("got\n%s", got.out)
	}
}

// TestListenLayout: packets of a device that only a layout file describes.
func TestListenLayout(t *testing.T) {
	t.Chdir(t.TempDir())
	put(t, "optics.layout.yaml", `packet:
  length: 4
  checksum: {kind: crc, width: 16, poly: 0x1021, init: 0xFFFF}
messages:
  - {name: Camber, fields: [{name: Outer, type: u16be, scale: 0.001, unit: m}, {name: Inner, type: u16be, scale: 0.001, unit: m}]}
`)
	master, slave := pseudoTerminal(t)
	feed(t, master, func(i int) []byte {
		p := binary.BigEndian.AppendUint16(nil, uint16(200+i%10))
		p = binary.BigEndian.AppendUint16(p, 300)
		return cobs(binary.BigEndian.AppendUint16(p, crc16(p)))
	})
	got := call(t, "listen", slave, "--baud", "921600", "--framing", "cobs", "--layout", "optics.layout.yaml", "--for", "1200ms")
	if got.code != 0 || !strings.Contains(got.out, "Camber.Outer") || !strings.Contains(got.out, "0.2  to  0.209  m") || !strings.Contains(got.out, "0.3  in  0.3  to    0.3  m") {
		t.Errorf("got %+v\n%s", got, got.out)
	}
}

// TestListenUnplugged: a device that goes away is said, and what was heard is kept.
func TestListenUnplugged(t *testing.T) {
	t.Parallel()
	master, slave := pseudoTerminal(t)
	feed(t, master, forces)
	port := filepath.Join(t.TempDir(), "adapter") // the terminal's own name may be that of another test's a moment later
	if err := os.Symlink(slave, port); err != nil {
		t.Fatal(err)
	}
	pulled := time.AfterFunc(700*time.Millisecond, func() {
		_ = os.Remove(port)
		_ = master.Close()
	})
	defer pulled.Stop()
	got := call(t, "listen", port, "--baud", "115200", "--framing", "slcan", "--for", "1500ms")
	if got.code != 0 || !strings.Contains(got.out, " 100 ") {
		t.Errorf("exit code %d, got\n%s", got.code, got.out)
	}
	_, what, _ := strings.Cut(got.out, "What happened")
	if strings.Count(what, "valid packets arrive") != 1 || !strings.Contains(what, "lost") && !strings.Contains(what, "there is no") {
		t.Errorf("the pulled plug is not said:\n%s", got.out)
	}
}

// TestListenWrongFraming: bytes that make no packet are told from silence, with exit code 3.
func TestListenWrongFraming(t *testing.T) {
	t.Parallel()
	master, slave := pseudoTerminal(t)
	feed(t, master, func(i int) []byte { return []byte{byte(i) | 1, 0xA5, 0xFF, byte(i>>3) | 1, 0x81, 0x93, 0x99} })
	got := call(t, "listen", slave, "--baud", "115200", "--framing", "slcan", "--for", "3s")
	out := strings.Join(strings.Fields(got.out), " ")
	if got.code != 3 || !strings.Contains(got.errors, "no frame was heard on "+slave) || !strings.Contains(out, "wrong baud rate or wrong framing") ||
		!strings.Contains(out, "bytes belong to no valid frame") {
		t.Errorf("exit code %d, %s\n%s", got.code, got.errors, got.out)
	}
}

// TestListenTerminal: on a terminal the table is drawn in its place, about four times a second, never
// higher or wider than the window, and Ctrl-C leaves the survey.
func TestListenTerminal(t *testing.T) {
	t.Parallel()
	program := programFile(t)
	master, slave := pseudoTerminal(t)
	feed(t, master, forces)
	screen, tty := pseudoTerminal(t)
	const width, height = 70, 12
	raw, err := screen.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	if err := raw.Control(func(fd uintptr) {
		err = unix.IoctlSetWinsize(int(fd), unix.TIOCSWINSZ, &unix.Winsize{Row: height, Col: width})
	}); err != nil {
		t.Fatal(err)
	}
	out, err := os.OpenFile(tty, os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	var shown bytes.Buffer
	var reading sync.WaitGroup
	reading.Go(func() { _, _ = io.Copy(&shown, screen) }) // ends with EIO when the last writer is gone
	c := exec.CommandContext(t.Context(), program, "listen", slave, "--baud", "115200", "--framing", "slcan", "--color", "never")
	c.Stdout, c.Env = out, append(os.Environ(), "TERM=xterm", "LC_ALL=C.UTF-8")
	var errs bytes.Buffer
	c.Stderr = &errs
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	_ = out.Close()
	const seconds = 3
	time.Sleep(seconds * time.Second)
	_ = c.Process.Signal(os.Interrupt)
	if err := c.Wait(); err != nil {
		t.Errorf("%v: %s", err, errs.String())
	}
	reading.Wait()
	const wipe = "\r\x1b[J"
	views := strings.Split(shown.String(), wipe)
	if n := len(views) - 1; n < 2*seconds || n > 5*seconds {
		t.Errorf("drawn %d times in %d s, want about 4/s", n, seconds)
	}
	for i, view := range views[:len(views)-1] {
		view, up, _ := strings.Cut(view, "\x1b[")
		lines := strings.Split(strings.TrimSuffix(view, "\r\n"), "\r\n")
		if want := fmt.Sprintf("%dA", len(lines)); up != want {
			t.Fatalf("view %d has %d lines and is taken back by %q", i, len(lines), up)
		}
		if len(lines) > height-1 {
			t.Errorf("view %d has %d lines, the window %d", i, len(lines), height)
		}
		for _, line := range lines {
			if n := len([]rune(line)); n > width {
				t.Errorf("view %d: %d columns: %q", i, n, line)
			}
		}
	}
	if last := views[len(views)-1]; !strings.Contains(last, "What happened") || !strings.Contains(last, "100") {
		t.Errorf("at the end:\n%s", last)
	}
}

// cobs stuffs a packet (Cheshire and Baker, 1999) and ends it with a zero; packets here are shorter than 254 bytes.
func cobs(packet []byte) []byte {
	out, at := []byte{0}, 0
	for _, b := range packet {
		if b == 0 {
			out[at] = byte(len(out) - at)
			at = len(out)
			out = append(out, 0)
		} else {
			out = append(out, b)
		}
	}
	out[at] = byte(len(out) - at)
	return append(out, 0)
}

// crc16 is CRC-16/IBM-3740 of the catalogue of parametrised CRC algorithms: check value 0x29B1.
func crc16(data []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range data {
		crc ^= uint16(b) << 8
		for range 8 {
			if crc&0x8000 != 0 {
				crc = crc<<1 ^ 0x1021
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}

// TestListenGuess: what a device sends is found by listening alone, and the lines for the setup are right.
func TestListenGuess(t *testing.T) {
	if got := crc16([]byte("123456789")); got != 0x29B1 {
		t.Fatalf("crc16 of the test: %04X", got)
	}
	tests := []struct {
		name   string
		packet func(i int) []byte
		want   []string
	}{
		{"slcan", forces, []string{"1  115200  slcan", "framing: slcan", "dbc: [FILE.dbc]"}},
		{"cobs", func(i int) []byte {
			p := []byte{byte(i), 0, byte(i * 7), byte(i >> 8), 0x55, byte(i * 31)}
			return cobs(binary.BigEndian.AppendUint16(p, crc16(p)))
		}, []string{"1  115200  cobs", "CRC-16 poly 0x1021", "framing: cobs", "checksum: {width: 16, poly: 0x1021, init: 0xFFFF}", "layout: FILE.layout.yaml"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			yard(t, nil)
			master, slave := pseudoTerminal(t)
			feed(t, master, tt.packet)
			got := call(t, "listen", slave, "--guess", "--baud", "115200")
			if got.code != 0 {
				t.Fatalf("exit code %d: %s", got.code, got.errors)
			}
			for _, want := range tt.want {
				if !strings.Contains(got.out, want) {
					t.Errorf("no %q in\n%s", want, got.out)
				}
			}
			// its lines as the source of a whole setup
			_, lines, _ := strings.Cut(got.out, "sources:\n")
			lines, _, _ = strings.Cut(lines, "\n\n")
			lines = strings.NewReplacer("FILE.dbc", "vehicle.dbc", "layout: FILE.layout.yaml", "dbc: [vehicle.dbc]").Replace(lines)
			head, rest, _ := strings.Cut(simulated.Standard(1).SetupYAML(), "sources:\n")
			_, rest, _ = strings.Cut(rest, "\n")
			put(t, "guessed.yaml", head+"sources:\n"+lines+"\n"+rest)
			if c := call(t, "setup", "check", "guessed.yaml"); c.code != 0 {
				t.Errorf("the setup with these lines:\n%s%s", c.errors, lines)
			}
		})
	}
	t.Run("silent", func(t *testing.T) {
		_, slave := pseudoTerminal(t)
		got := call(t, "listen", slave, "--guess", "--baud", "9600")
		if got.code != 3 || !strings.Contains(got.errors, "no baud rate and framing gave valid packets") {
			t.Errorf("got %+v", got)
		}
	})
}

// TestListenSaysWhy: what is wrong with the word or the flags, and the exit code.
func TestListenSaysWhy(t *testing.T) {
	yard(t, map[string]string{"drive.log": listenLog(), "broken.dbc": listenDBC + "BO_ 512 Broken: 8 X\n SG_ S : nonsense\n", "none.dbc": ""})
	_, slave := pseudoTerminal(t)
	tests := []struct {
		name string
		args []string
		code int
		want string // in what is printed
	}{
		{"neither", []string{"wheels"}, 2, "wheels: there is neither a file nor a CAN interface of this name: name a recording, an interface as `ip link` shows it (can0), or a serial device (/dev/ttyUSB0)"},
		{"no CAN interface", []string{"lo"}, 2, "lo is a network interface, but no CAN interface, and there is no file of this name"},
		{"a file that is gone", []string{"gone.log"}, 3, "open gone.log: no such file or directory"},
		{"a device that is gone", []string{"/dev/ttyGONE0", "--baud", "9600", "--framing", "lines", "--for", "600ms"}, 3, "there is no /dev/ttyGONE0: plug the adapter in"},
		{"no baud", []string{slave, "--framing", "lines"}, 2, "say how it talks, as in --baud 115200 --framing cobs"},
		{"no framing", []string{slave, "--baud", "9600"}, 2, "or let --guess try"},
		{"framing", []string{slave, "--baud", "9600", "--framing", "kobs"}, 2, "kobs"},
		{"packets alone", []string{slave, "--baud", "9600", "--framing", "packets"}, 2, "--framing packets needs --layout"},
		{"guess packets", []string{slave, "--guess", "--framing", "packets"}, 2, "--framing packets cannot be guessed"},
		{"guess with a DBC", []string{slave, "--guess", "--dbc", "broken.dbc"}, 2, "--guess decodes nothing"},
		{"layout gone", []string{slave, "--baud", "9600", "--framing", "cobs", "--layout", "gone.yaml"}, 2, "layout: open gone.yaml"},
		{"baud of a recording", []string{"drive.log", "--baud", "9600"}, 2, "--baud does not go with drive.log, which is a recording: leave it out"},
		{"time of a recording", []string{"drive.log", "--for", "1s"}, 2, "--for does not go with drive.log"},
		{"guess of an interface", []string{"can0", "--guess"}, 2, "--guess does not go with can0, which is a CAN interface"},
		{"time", []string{slave, "--baud", "9600", "--framing", "lines", "--for", "-1s"}, 2, "--for -1s: expected a time above 0"},
		{"baud", []string{slave, "--baud", "0", "--framing", "lines"}, 2, "--baud 0: expected a bit rate above 0"},
		{"a broken DBC, the rest is used", []string{"drive.log", "--dbc", "broken.dbc"}, 0, "; the rest of the file is used"},
		{"a broken DBC still decodes", []string{"drive.log", "--dbc", "broken.dbc"}, 0, "FL_Forces.Fx"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := call(t, append([]string{"listen"}, tt.args...)...)
			if got.code != tt.code {
				t.Errorf("exit code: got %d, want %d", got.code, tt.code)
			}
			if all := strings.Join(strings.Fields(got.errors+got.out), " "); !strings.Contains(all, tt.want) {
				t.Errorf("got\n%s%s\nwant %q in it", got.errors, got.out, tt.want)
			}
		})
	}
}

// TestListenNoCAN: where the kernel has no CAN, both readings of the word are named.
func TestListenNoCAN(t *testing.T) {
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW, unix.CAN_RAW)
	if err == nil {
		_ = unix.Close(fd)
		t.Skip("this kernel has CAN: TestRunOnCAN listens on it")
	}
	t.Chdir(t.TempDir())
	got := call(t, "listen", "can0", "--for", "1s")
	if got.code != 3 || !strings.Contains(got.errors, "there is no file can0, and as a CAN interface it cannot be heard: socketcan:") {
		t.Errorf("got %+v", got)
	}
}
