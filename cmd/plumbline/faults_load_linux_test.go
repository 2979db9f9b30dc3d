package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// fullBus is how many frames a second a bus of 1 Mbit/s carries at the most.
const fullBus = 8000

// loadFaults are those of too much, too little and too many.
func loadFaults() []fault {
	return []fault{
		{
			name:    "ten times a full bus",
			how:     "80,000 frames/s for 2 s over a serial adapter, as fast as the pseudo-terminal takes them",
			loses:   "ring, recorder",
			note:    "a terminal holds back who writes, so that nothing is lost in the kernel; a CAN bus is a row of its own",
			vehicle: one, rate: fullBus,
			make: func(tr *trial) {
				tr.begins()
				w := tr.wires[0]
				w.set(func() { w.flood = 9 })
				time.Sleep(2 * time.Second)
				w.set(func() { w.flood = 0 })
				tr.ends()
			},
		},
		{
			name:    "stopped",
			how:     "SIGSTOP for 30 s, with a serial adapter that goes on; then SIGCONT",
			says:    []saying{{inFinding, "stayed away for"}},
			note:    "frames for which the buffer of the terminal had no room never reached the computer: the gap is told, not their number",
			vehicle: one, rate: 3000, losesLine: true, // which fill the buffer of a terminal within 3 s
			make: stopped,
		},
		{
			name:    "little memory",
			how:     "GOMEMLIMIT=24MiB, ten times a full bus for 2 s and 50 viewers",
			env:     []string{"GOMEMLIMIT=24MiB"},
			loses:   "ring, recorder",
			vehicle: one, rate: fullBus,
			make: func(tr *trial) {
				tr.begins()
				defer tr.viewers(50)()
				w := tr.wires[0]
				w.set(func() { w.flood = 9 })
				time.Sleep(2 * time.Second)
				w.set(func() { w.flood = 0 })
				tr.ends()
			},
		},
		{
			name:      "no memory",
			how:       "the program is refused more memory (RLIMIT_DATA), ends by a signal, and is started again as the service manager does",
			says:      []saying{{inLog, "fatal error: "}},
			uncounted: true, losesSome: true,
			note:    "lost is what was heard in the last half second and what came while it was not there; the session that begins says when it began",
			vehicle: one,
			make:    outOfMemory,
		},
		{
			name:    "no descriptors",
			how:     "the program may open no further file, while a part of the recording ends, an adapter comes back and 20 viewers come",
			says:    []saying{{inLog, `"msg":"recording stopped"`}, {inLog, "too many open files"}, {inFinding, "too many open files"}},
			vehicle: one,
			setup: func(text string) string {
				return text + "\nrecord: {dir: recording, part: 10 s}\n"
			},
			make: noDescriptors,
		},
		{
			name:    "rubbish in the setup",
			how:     "the setup is replaced by rubbish, by an empty file, by one with a misspelt word, by a folder and by nothing, with SIGHUP each time",
			says:    []saying{{inLog, "the new setup is bad, the old one stays"}},
			vehicle: one,
			make:    rubbish,
		},
		{
			name:    "idle and slow clients",
			how:     "1,000 connections that ask nothing, and 50 that ask for the stream and never read, with a full bus",
			note:    "who comes meanwhile waits: 512 connections are taken at one time, and who asks nothing, or nothing more, is sent away after 5 s",
			vehicle: one, rate: fullBus,
			make: crowd,
		},
		{
			name:    "storm of scrapes",
			how:     "200 ask for the metrics at the same time, five times each, with a full bus",
			note:    "nothing is lost where the line can wait: see how long it was held back",
			vehicle: one, rate: fullBus,
			make: func(tr *trial) {
				tr.begins()
				var all sync.WaitGroup
				failed := make(chan error, 200)
				for range 200 {
					all.Go(func() {
						client := &http.Client{Timeout: patience, Transport: &http.Transport{}}
						defer client.CloseIdleConnections()
						for range 5 {
							if err := tr.ask(client, "metrics"); err != nil {
								failed <- err
								return
							}
						}
					})
				}
				all.Wait()
				tr.ends()
				close(failed)
				for err := range failed {
					tr.Errorf("a scrape: %v", err)
				}
			},
		},
	}
}

func (tr *trial) ask(client *http.Client, path string) error {
	req, err := http.NewRequestWithContext(tr.Context(), http.MethodGet, tr.watch.url+path, http.NoBody)
	if err != nil {
		return err
	}
	resp, err := client.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", path, resp.Status)
	}
	_, err = io.Copy(io.Discard, resp.Body)
	return err
}

// stopFor is for how long the program is stopped.
const stopFor = 30 * time.Second

func stopped(tr *trial) {
	tr.begins()
	tr.signal(syscall.SIGSTOP)
	time.Sleep(stopFor)
	tr.signal(syscall.SIGCONT)
	tr.ends()
	tr.hears(tr.fault.says...)
}

// viewers opens so many streams that are read, until the function that it returns is called.
func (tr *trial) viewers(n int) (end func()) {
	ctx, cancel := context.WithCancel(tr.Context())
	var all sync.WaitGroup
	for range n {
		all.Go(func() {
			req, err := http.NewRequestWithContext(ctx, http.MethodGet, tr.watch.url+"api/stream?page=/", http.NoBody)
			if err != nil {
				return
			}
			client := &http.Client{Transport: &http.Transport{}}
			defer client.CloseIdleConnections()
			resp, err := client.Do(req)
			if err != nil {
				return
			}
			_, _ = io.Copy(io.Discard, resp.Body) // until ctx is done
			_ = resp.Body.Close()
		})
	}
	return func() { cancel(); all.Wait() }
}

// address is where the page is.
func (tr *trial) address() string {
	return strings.TrimSuffix(strings.TrimPrefix(tr.watch.url, "http://"), "/")
}

// connect opens connections that say something, or nothing, and read nothing.
func (tr *trial) connect(n int, say string) []net.Conn {
	tr.Helper()
	var all []net.Conn
	dialer := net.Dialer{Timeout: patience}
	for range n {
		c, err := dialer.DialContext(tr.Context(), "tcp", tr.address())
		if err != nil {
			tr.Fatalf("connection %d: %v", len(all), err)
		}
		_ = c.(*net.TCPConn).SetReadBuffer(2048)
		if say != "" {
			if _, err := io.WriteString(c, say); err != nil {
				tr.Fatal(err)
			}
		}
		all = append(all, c)
	}
	return all
}

func crowd(tr *trial) {
	tr.begins()
	all := tr.connect(50, "GET /api/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
	all = append(all, tr.connect(1000, "")...)
	// somebody new is answered while all of them are there
	client := &http.Client{Timeout: patience, Transport: &http.Transport{}}
	if err := tr.ask(client, "api/result"); err != nil {
		tr.Errorf("somebody new: %v", err)
	}
	client.CloseIdleConnections()
	tr.out.Said["somebody new is answered"] = time.Since(tr.began).Seconds()
	for _, c := range all {
		_ = c.Close()
	}
	tr.ends()
}

// limit sets a limit of the program that runs.
func (tr *trial) limit(what int, to uint64) (was unix.Rlimit) {
	tr.Helper()
	if err := unix.Prlimit(tr.program.Process.Pid, what, nil, &was); err != nil {
		tr.Fatal(err)
	}
	now := was
	now.Cur = min(to, was.Max)
	if err := unix.Prlimit(tr.program.Process.Pid, what, &now, nil); err != nil {
		tr.Fatal(err)
	}
	return was
}

func outOfMemory(tr *trial) {
	tr.begins()
	tr.safe()
	tr.limit(unix.RLIMIT_DATA, 1<<20) // far below what it has: the next piece is refused
	end := tr.viewers(100)
	select {
	case <-tr.ended:
	case <-time.After(patience):
		tr.Fatal("it goes on without memory")
	}
	end()
	if s, ok := tr.program.ProcessState.Sys().(syscall.WaitStatus); !ok || !s.Signaled() {
		tr.Errorf("it ended with %v, want a signal: the service manager starts that again", tr.program.ProcessState)
	}
	tr.hears(tr.fault.says...)
	tr.wires[0].hush() // bytes for nobody would wait in the terminal
	tr.base = tr.wires[0].sent()
	tr.watch.mu.Lock()
	tr.watch.last = nil // that was the one before
	tr.watch.mu.Unlock()
	tr.launch(tr.file, tr.address())
	tr.awaitOpen(tr.wires[0])
	tr.wires[0].speak()
	tr.ends()
}

func noDescriptors(tr *trial) {
	w, path := tr.wires[0], wirePath(tr.dir, tr.wires[0].source)
	tr.begins()
	tr.settle(w)
	open, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", tr.program.Process.Pid))
	if err != nil {
		tr.Fatal(err)
	}
	was := tr.limit(unix.RLIMIT_NOFILE, uint64(len(open)))
	w.unplug(tr.T, path)
	crowd := tr.connect(20, "")
	tr.plug(w)
	tr.hears(tr.fault.says...)
	for _, c := range crowd {
		_ = c.Close()
	}
	tr.limit(unix.RLIMIT_NOFILE, was.Cur)
	tr.ends()
	tr.awaitOpen(w)
	w.speak()
}

func rubbish(tr *trial) {
	good, err := os.ReadFile(tr.setup)
	if err != nil {
		tr.Fatal(err)
	}
	tr.begins()
	refused := func() int { return strings.Count(tr.logText(), tr.fault.says[0].words) }
	for i, bad := range []string{"rubbish: [", "", strings.Replace(string(good), "serial:", "cereal:", 1), "\x00\x01\x02", "a folder", "nothing"} {
		switch bad {
		case "a folder":
			tr.remove(tr.setup)
			if err := os.Mkdir(tr.setup, 0o750); err != nil {
				tr.Fatal(err)
			}
		case "nothing":
			tr.remove(tr.setup)
		default:
			put(tr.T, tr.setup, bad)
		}
		tr.signal(syscall.SIGHUP)
		for give := time.Now().Add(patience); refused() <= i; time.Sleep(20 * time.Millisecond) {
			if time.Now().After(give) {
				tr.Fatalf("%q was not refused", bad)
			}
		}
	}
	put(tr.T, tr.setup, string(good))
	tr.ends()
	tr.hears(tr.fault.says...)
	if n := strings.Count(tr.logText(), `"msg":"listening"`); n != 1 {
		tr.Errorf("it began to listen %d times: a bad setup is no reason to begin anew", n)
	}
}
