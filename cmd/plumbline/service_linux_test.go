package main

import (
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/daemon"
)

// service is the real program as a service manager runs it: one wheel on a serial adapter,
// whose frames go on as long as the test.
type service struct {
	*exec.Cmd
	dir, setup, result, log string

	sent  atomic.Int64 // frames that the adapter has taken
	ended chan struct{}
}

// serviceSetup is the setup of the wheel that a service listens to.
func serviceSetup(vehicle, device string) string {
	text := oneWheel().SetupYAML()
	text = strings.Replace(text, `vehicle: "Minibus 7"`, "vehicle: "+vehicle, 1)
	return strings.Replace(text, "can: can0", "serial: "+device+", baud: 921600, framing: slcan", 1)
}

func oneWheel() simulated.Config {
	cfg := simulated.Standard(1)
	cfg.RateHz, cfg.JitterS, cfg.Optics = 50, 0, nil
	cfg.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 20}}
	return cfg
}

// serve starts the service and the adapter, and waits until it listens. env and args are added.
func serve(t *testing.T, program string, env []string, args ...string) *service {
	t.Helper()
	dir := t.TempDir()
	s := &service{
		dir: dir, setup: filepath.Join(dir, "setup.yaml"), result: filepath.Join(dir, "result.json"), log: filepath.Join(dir, "log"),
		ended: make(chan struct{}),
	}
	master, slave := pseudoTerminal(t)
	cfg := oneWheel()
	for _, f := range cfg.DBCs() {
		put(t, filepath.Join(dir, f.Name), f.Text)
	}
	put(t, s.setup, serviceSetup("First", slave))
	s.Cmd = exec.CommandContext(t.Context(), program, append([]string{"run", s.setup, "-o", s.result, "--log-format", "json", "--listen", noPage}, args...)...)
	s.Env = append(os.Environ(), env...)
	log, err := os.Create(s.log)
	if err != nil {
		t.Fatal(err)
	}
	s.Stderr = log
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	_ = log.Close()
	go func() { defer close(s.ended); _ = s.Wait() }()
	t.Cleanup(func() {
		_ = s.Process.Kill()
		<-s.ended
		if t.Failed() {
			t.Logf("log:\n%s", s.text(t))
		}
	})
	s.await(t, 1, `"msg":"listening"`)
	time.Sleep(300 * time.Millisecond) // the port is opened with the first read
	s.send(t, master)
	return s
}

// send has the adapter deliver the frames of the wheel at their times, again and again.
func (s *service) send(t *testing.T, to *os.File) {
	t.Helper()
	v, err := simulated.New(oneWheel())
	if err != nil {
		t.Fatal(err)
	}
	type burst struct {
		after time.Duration
		n     int64
		text  []byte
	}
	var all []burst
	first := int64(0)
	frames(t, v, func(f *bus.Frame) {
		if first == 0 {
			first = f.At
		}
		after := time.Duration(f.At - first)
		if len(all) == 0 || after-all[len(all)-1].after > 5*time.Millisecond {
			all = append(all, burst{after: after})
		}
		b := &all[len(all)-1]
		b.n++
		b.text = slcan(b.text, f)
	})
	stop := make(chan struct{})
	var done sync.WaitGroup
	done.Go(func() {
		for began := time.Now(); ; began = time.Now() {
			for i := range all {
				select {
				case <-stop:
					return
				case <-time.After(all[i].after - time.Since(began)):
				}
				_ = to.SetWriteDeadline(time.Now().Add(time.Second))
				if _, err := to.Write(all[i].text); err != nil {
					return
				}
				s.sent.Add(all[i].n)
			}
		}
	})
	t.Cleanup(func() { close(stop); done.Wait() })
}

func (s *service) text(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(s.log)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// await waits until the log holds words so many times.
func (s *service) await(t *testing.T, times int, words ...string) {
	t.Helper()
	for range 200 {
		n := 0
		for line := range strings.Lines(s.text(t)) {
			all := true
			for _, w := range words {
				all = all && strings.Contains(line, w)
			}
			if all {
				n++
			}
		}
		if n >= times {
			return
		}
		select {
		case <-s.ended:
			t.Fatalf("it ended before %q was logged %d times:\n%s", words, times, s.text(t))
		case <-time.After(50 * time.Millisecond):
		}
	}
	t.Fatalf("%q was not logged %d times:\n%s", words, times, s.text(t))
}

func (s *service) signal(t *testing.T, sig os.Signal) {
	t.Helper()
	if err := s.Process.Signal(sig); err != nil {
		t.Fatal(err)
	}
}

// end ends it as the manager does and returns its result. A verdict is no failure of the service.
func (s *service) end(t *testing.T) daemon.Result {
	t.Helper()
	began := time.Now()
	s.signal(t, syscall.SIGTERM)
	select {
	case <-s.ended:
	case <-time.After(10 * time.Second):
		t.Fatal("it did not end within 10 s")
	}
	if took := time.Since(began); took > 2*time.Second {
		t.Errorf("it took %v to end, want 2 s at the most", took)
	}
	if code := s.ProcessState.ExitCode(); code != daemon.ExitPass && code != daemon.ExitFail && code != daemon.ExitInconclusive {
		t.Errorf("exit code %d, want a verdict", code)
	}
	text, err := os.ReadFile(s.result)
	if err != nil {
		t.Fatal(err)
	}
	return decoded(t, text)
}

// TestServiceReload: a good setup takes the place of the old one; a bad one is refused with its reason, and
// the service goes on with what it had.
func TestServiceReload(t *testing.T) {
	t.Parallel() // it waits most of the time
	s := serve(t, programFile(t), nil)
	good, err := os.ReadFile(s.setup)
	if err != nil {
		t.Fatal(err)
	}
	put(t, s.setup, strings.Replace(string(good), "vehicle: First", "vehicle: Second", 1))
	s.signal(t, syscall.SIGHUP)
	s.await(t, 1, `"msg":"setup read again"`)
	s.await(t, 2, `"msg":"listening"`)
	since := s.sent.Load()
	for i, bad := range []string{"rubbish: [", strings.Replace(string(good), "serial:", "cereal:", 1), ""} {
		put(t, s.setup, bad)
		s.signal(t, syscall.SIGHUP)
		s.await(t, i+1, `"level":"ERROR"`, "the new setup is bad, the old one stays", "setup.yaml")
	}
	if err := os.Remove(s.setup); err != nil {
		t.Fatal(err)
	}
	s.signal(t, syscall.SIGHUP)
	s.await(t, 1, "the old one stays", "no such file")
	time.Sleep(1500 * time.Millisecond)
	before := s.sent.Load()
	r := s.end(t)
	if r.Setup.Vehicle != "Second" {
		t.Errorf("the setup at the end is that of %s, want Second", r.Setup.Vehicle)
	}
	if n := strings.Count(s.text(t), `"msg":"listening"`); n != 2 {
		t.Errorf("it began to listen %d times, want 2: a bad setup is no reason to begin anew", n)
	}
	if got, want := r.Captures[0].Frames, uint64(before-since); got < want*9/10 {
		t.Errorf("heard %d frames since the good setup, %d were sent", got, want)
	}
}

// TestServiceStop: it ends within 2 s while nothing arrives as well.
func TestServiceStop(t *testing.T) {
	t.Parallel() // it waits most of the time
	s := serve(t, programFile(t), nil)
	time.Sleep(time.Second)
	if r := s.end(t); r.Captures[0].Frames == 0 {
		t.Error("nothing was heard")
	}
}

// TestServiceNotify: the manager is told when it is ready, that it is alive while frames come, and that it ends.
func TestServiceNotify(t *testing.T) {
	t.Parallel() // it waits most of the time
	program := programFile(t)
	for _, tt := range []struct{ name, address string }{{"a path", filepath.Join(t.TempDir(), "notify")}, {"abstract", "@plumbline-test-" + pid()}} {
		t.Run(tt.name, func(t *testing.T) {
			conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: tt.address, Net: "unixgram"})
			if err != nil {
				t.Fatal(err)
			}
			type message struct {
				at   time.Time
				text string
			}
			var mu sync.Mutex
			var told []message
			var reading sync.WaitGroup
			reading.Go(func() {
				buf := make([]byte, 4096)
				for {
					n, err := conn.Read(buf)
					if err != nil {
						return
					}
					mu.Lock()
					told = append(told, message{time.Now(), string(buf[:n])})
					mu.Unlock()
				}
			})
			const watchdog = 900 * time.Millisecond
			s := serve(t, program, []string{"NOTIFY_SOCKET=" + tt.address, "WATCHDOG_USEC=900000"})
			time.Sleep(3 * time.Second)
			stopped := time.Now()
			s.end(t)
			time.Sleep(100 * time.Millisecond)
			_ = conn.Close()
			reading.Wait()
			mu.Lock()
			defer mu.Unlock()
			if len(told) < 3 || told[0].text != "READY=1" || told[len(told)-1].text != "STOPPING=1" || told[len(told)-1].at.Before(stopped) {
				t.Fatalf("got %v, want READY=1 first and STOPPING=1 last", told)
			}
			alive, last := 0, told[0].at
			for _, m := range told[1 : len(told)-1] {
				if m.text != "WATCHDOG=1" {
					t.Errorf("got %q among the signs of life", m.text)
				}
				if gap := m.at.Sub(last); gap > watchdog {
					t.Errorf("no sign of life for %v, the manager waits %v", gap, watchdog)
				}
				last = m.at
				alive++
			}
			if gap := stopped.Sub(last); gap > watchdog {
				t.Errorf("no sign of life for %v before the end", gap)
			}
			if alive < 6 || alive > 20 {
				t.Errorf("%d signs of life in 3 s, want one every 0.3 s or so", alive)
			}
		})
	}
}

// TestServiceKilled: after kill -9 the recording holds all that was heard up to a second before, once.
func TestServiceKilled(t *testing.T) {
	t.Parallel() // it waits most of the time
	program := programFile(t)
	for _, after := range []time.Duration{1800 * time.Millisecond, 2630 * time.Millisecond} {
		t.Run(after.String(), func(t *testing.T) {
			record := filepath.Join(t.TempDir(), "recording")
			s := serve(t, program, nil, "--record", record)
			time.Sleep(after - time.Second)
			old := s.sent.Load()
			time.Sleep(time.Second)
			killed, sent := time.Now(), s.sent.Load()
			s.signal(t, syscall.SIGKILL)
			<-s.ended
			again := call(t, "replay", s.setup, record, "--format", "json")
			r := decoded(t, []byte(again.out))
			c := &r.Captures[0]
			t.Logf("sent %d, a second before %d, read back %d", sent, old, c.Frames)
			// what the adapter took last may not have been read yet
			const underway = 20
			if c.Frames < uint64(old-underway) || c.Frames > uint64(sent+underway) {
				t.Errorf("read back %d frames, want %d to %d", c.Frames, old, sent)
			}
			if age := killed.Sub(time.Unix(0, int64(c.Last))); age > 1100*time.Millisecond {
				t.Errorf("the newest is %v older than the end, want 1 s at the most", age)
			}
			for _, f := range r.Findings { // a counter that jumped is a frame that is missing or doubled
				if f.Check == "alive" && strings.Contains(f.Sentence, "counter") && f.Verdict.String() == "fail" {
					t.Errorf("%s: %s", f.Name(), f.Sentence)
				}
			}
		})
	}
}
