package socketcan

import (
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// BenchmarkReceive tells what one frame costs from the socket to the batch, 64 at a time.
func BenchmarkReceive(b *testing.B) {
	c, send := udpConn(b, 1<<20)
	p := &port{name: "can0", conn: c, health: health{shown: verdict{link: bus.ErrorActive}}}
	frame := raw(16, 1, 8, 0, 1, 2, 3, 4, 5, 6, 7, 8)
	var batch bus.Batch
	var spent time.Duration
	frames := 0
	b.ReportAllocs()
	for b.Loop() {
		for range 64 {
			send(frame)
		}
		begin := time.Now()
		batch.Reset()
		if err := c.fill(); err != nil {
			b.Fatal(err)
		}
		for p.waiting() {
			p.deliver(notes{&batch, 1}, clocks{1, 1})
		}
		spent += time.Since(begin)
		frames += len(batch.Frames)
	}
	b.ReportMetric(float64(spent.Nanoseconds())/float64(frames), "ns/frame")
}

// BenchmarkReader tells what a whole Reader costs, wake-ups and system calls included, at the rates of a saturated
// bus and of three. Another process sends, over UDP, which costs more than CAN.
func BenchmarkReader(b *testing.B) {
	for _, rate := range []int{8000, 24000} {
		b.Run(fmt.Sprintf("%d a second", rate), func(b *testing.B) {
			r, fd, _ := udpReader(b)
			defer r.Close()
			to, err := unix.Getsockname(fd)
			if err != nil {
				b.Fatal(err)
			}
			sender := exec.CommandContext(b.Context(), os.Args[0], "-test.run", "^TestSender$")
			sender.Env = append(os.Environ(), fmt.Sprintf("%s=%d %d", envSend, to.(*unix.SockaddrInet4).Port, rate))
			if err := sender.Start(); err != nil {
				b.Fatal(err)
			}
			defer func() {
				_ = sender.Process.Kill()
				_ = sender.Wait() // says that it was killed
			}()
			var batch bus.Batch
			for b.Loop() {
				var frames, reads int
				begin, cpu := time.Now(), cpuTime(unix.RUSAGE_SELF)
				for time.Since(begin) < 3*time.Second {
					if err := r.Read(&batch); err != nil {
						b.Fatal(err)
					}
					frames += len(batch.Frames)
					reads++
				}
				used, took := cpuTime(unix.RUSAGE_SELF)-cpu, time.Since(begin)
				b.ReportMetric(100*used.Seconds()/took.Seconds(), "%core")
				b.ReportMetric(float64(frames)/took.Seconds(), "frames/s")
				b.ReportMetric(float64(used.Nanoseconds())/float64(frames), "cpu-ns/frame")
				b.ReportMetric(float64(frames)/float64(reads), "frames/read")
			}
		})
	}
}

// envSend makes this program a sender, to a port of this computer and at a rate: "PORT FRAMES/S".
const envSend = "PLUMBLINE_TEST_SEND"

// TestSender is the other process of BenchmarkReader.
func TestSender(t *testing.T) {
	words := os.Getenv(envSend)
	if words == "" {
		t.Skip("BenchmarkReader starts it")
	}
	t.Fatal(sendTo(words))
}

// sendTo sends frames as the environment says, until it is killed.
func sendTo(words string) error {
	var port, rate int
	if _, err := fmt.Sscan(words, &port, &rate); err != nil {
		return err
	}
	fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return err
	}
	to := &unix.SockaddrInet4{Addr: [4]byte{127, 0, 0, 1}, Port: port}
	frame := raw(16, 1, 8, 0, 1, 2, 3, 4, 5, 6, 7, 8)
	for begin, n := time.Now(), 0; ; time.Sleep(200 * time.Microsecond) {
		for due := int(time.Since(begin).Seconds() * float64(rate)); n < due; n++ {
			binary.NativeEndian.PutUint32(frame, uint32(n)&0x7FF)
			if err := unix.Sendto(fd, frame, 0, to); err != nil {
				return err
			}
		}
	}
}
