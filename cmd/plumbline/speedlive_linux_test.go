package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/daemon"
)

// live measures the daemon: what a frame costs, how soon it says something, and what it costs to look at it.
func (s *speed) live() {
	cost := s.sheet("Live", "Recording, page and metrics are on. The whole process hears simulated slcan adapters over a pseudo-terminal, which costs more than\n"+
		"CAN; the daemon alone, without a source, is `BenchmarkDaemon`, in batches of 20 ms as a kernel delivers them.",
		"daemon", "frames/s", "CPU, ns/frame", "% of a core")
	var rate, load []float64
	for _, bus := range []struct {
		corners int
		hz      float64
	}{{4, 667}, {8, 250}, {8, 1000}} {
		frames, cpu, took := s.listens(bus.corners, bus.hz)
		rate, load = append(rate, float64(frames)/took.Seconds()), append(load, float64(cpu)/took.Seconds())
		cost.row(fmt.Sprintf("`plumbline run`, %d corners at %v Hz", bus.corners, bus.hz), fmt.Sprintf("%.0f", float64(frames)/took.Seconds()),
			figure(float64(cpu)/float64(frames)), fmt.Sprintf("%.1f", 100*cpu.Seconds()/took.Seconds()))
	}
	further := (load[2] - load[1]) / (rate[2] - rate[1])
	cost.row("each further frame, by the two rates of eight corners", "", figure(further), "")
	s.starts()
	if s.effort.bench == 0 {
		return
	}
	alone := s.benchmark("./daemon", "Daemon", true)
	for _, name := range sorted(alone) {
		f := alone[name]
		cost.row("the daemon alone, "+strings.ReplaceAll(name[1:], "_", " "), fmt.Sprintf("%.0f", f["frames/s"]), figure(f["cpu-ns/frame"]), fmt.Sprintf("%.1f", f["%core"]))
	}
	reader := s.benchmark("./bus/socketcan", "Reader", true)
	for _, name := range sorted(reader) {
		f := reader[name]
		cost.row("the CAN reader alone, over UDP, which costs more than CAN, "+strings.ReplaceAll(name[1:], "_", " "), fmt.Sprintf("%.0f", f["frames/s"]), figure(f["cpu-ns/frame"]), fmt.Sprintf("%.1f", f["%core"]))
	}
	judged, fixed := line(alone["/300_a_second"], alone["/24000_a_second"])
	read, waits := line(reader["/8000_a_second"], reader["/24000_a_second"])
	s.goal(judged+read < 1000, "live: under 1 µs of CPU a frame", "%s ns for each: %s to read it from the kernel, over UDP, and %s to judge, record and publish it. Besides, %.1f %% of a "+
		"core go to waiting and to a picture five times a second, however few come", figure(judged+read), figure(read), figure(judged), fixed+waits)
	look := s.sheet("Looking at it", "A vehicle with eight corners on the road. The snapshot is made five times a second by the goroutine that judges; pages and metrics are\n"+
		"made of it by others, once for all who look.", "what is made", "wall, ms", "CPU, ms", "kB")
	pages := s.benchmark("./daemon/web", "Page", false)
	for _, name := range sorted(pages) {
		f := pages[name]
		says, size := "page `"+name[1:]+"`, whole, as who opens it is sent it", fmt.Sprintf("%.0f", f["bytes"]/1e3)
		if name == "/snapshot" {
			says, size = "snapshot: all that is judged and shown", ""
			s.goal(f["cpu-ns/op"] < 1e6, "page snapshot: under 1 ms at 8 corners", "%s ms of CPU (wall %s)", figure(f["cpu-ns/op"]/1e6), figure(f["ns/op"]/1e6))
		}
		look.row(says, figure(f["ns/op"]/1e6), figure(f["cpu-ns/op"]/1e6), size)
	}
	scrape := s.benchmark("./daemon/metrics", "Scrape", false)[""]
	look.row(fmt.Sprintf("scrape of the metrics, %.0f lines", scrape["lines"]), figure(scrape["ns/op"]/1e6), "", fmt.Sprintf("%.0f", scrape["bytes"]/1e3))
}

// line returns, of two rates, what each frame costs, ns, and what is spent without any, % of a core.
func line(slow, fast map[string]float64) (each, without float64) {
	const rate, share = "frames/s", "%core"
	each = (fast[share] - slow[share]) / (fast[rate] - slow[rate])
	return each * 1e7, slow[share] - each*slow[rate]
}

func sorted(figures map[string]map[string]float64) []string {
	var names []string
	for name := range figures {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// heardLive is a daemon that runs while an adapter sends to it.
type heardLive struct {
	*exec.Cmd
	began   time.Time
	log     *bufio.Scanner
	said    chan time.Time // when the first line came on standard output
	ready   time.Time      // when it listened
	url     string
	joined  sync.WaitGroup
	cancel  context.CancelFunc
	stopped bool
}

// hear starts the program on a vehicle at rest that sends all the time.
func (s *speed) hear(corners int, hz float64) *heardLive {
	master, slave := pseudoTerminal(s.t)
	cfg := simulated.Standard(corners)
	cfg.RateHz, cfg.JitterS, cfg.Optics = hz, 0, nil
	cfg.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 3600}}
	dir := s.t.TempDir()
	setup := filepath.Join(dir, "setup.yaml")
	for _, f := range append(cfg.DBCs(), simulated.DBCFile{Name: "setup.yaml", Text: strings.Replace(cfg.SetupYAML(), "can: can0", "serial: "+slave+", baud: 921600, framing: slcan", 1)}) {
		if err := os.WriteFile(filepath.Join(dir, f.Name), []byte(f.Text), 0o600); err != nil {
			s.t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(s.t.Context())
	h := &heardLive{said: make(chan time.Time, 1), cancel: cancel}
	h.joined.Go(func() { s.send(ctx, cfg, master) })
	h.Cmd = exec.CommandContext(s.t.Context(), s.program, "run", setup, "--record", filepath.Join(dir, "recording"), "--listen", "127.0.0.1:0", "--log-format", "json")
	out, err := h.StdoutPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	logged, err := h.StderrPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	h.began = time.Now()
	if err := h.Start(); err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { h.end(s) })
	h.joined.Go(func() {
		for first, lines := true, bufio.NewScanner(out); lines.Scan(); first = false {
			if first {
				h.said <- time.Now()
			}
		}
	})
	h.log = bufio.NewScanner(logged)
	for h.ready.IsZero() || h.url == "" {
		if !h.log.Scan() {
			s.t.Fatal("the daemon ended")
		}
		var line struct{ Msg, URL string }
		if err := json.Unmarshal(h.log.Bytes(), &line); err != nil {
			s.t.Fatalf("%v: %s", err, h.log.Text())
		}
		switch line.Msg {
		case "page":
			h.url = line.URL
		case "listening":
			h.ready = time.Now()
		}
	}
	h.joined.Go(func() {
		for h.log.Scan() {
		}
	})
	return h
}

// end ends it as a service manager does.
func (h *heardLive) end(s *speed) {
	if h.stopped {
		return
	}
	h.stopped = true
	_ = h.Process.Signal(syscall.SIGTERM) // it may have ended
	h.cancel()
	h.joined.Wait() // pipes are read to their end before Wait closes them
	_ = h.Wait()    // says with which verdict it ended
	http.DefaultClient.CloseIdleConnections()
	if code := h.ProcessState.ExitCode(); code < 0 || code == 2 {
		s.t.Errorf("the daemon ended with %v", h.ProcessState)
	}
}

// send sends what the vehicle sends when it is due. What nobody takes is lost, as on a bus.
func (s *speed) send(ctx context.Context, cfg simulated.Config, to *os.File) {
	v, err := simulated.New(cfg)
	if err != nil {
		s.t.Error(err)
		return
	}
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	var (
		batch bus.Batch
		next  int
		buf   []byte
		began = time.Now()
	)
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		for due := simulated.DefaultStart + int64(time.Since(began)); ; next++ {
			if next == len(batch.Frames) {
				if err := v.Read(&batch); err != nil {
					return // the script has ended
				}
				next = 0
			}
			if batch.Frames[next].At > due {
				break
			}
			buf = slcan(buf, &batch.Frames[next])
		}
		_ = to.SetWriteDeadline(time.Now().Add(time.Millisecond))
		_, _ = to.Write(buf) // before the port is open nobody takes it
		buf = buf[:0]
	}
}

// get asks the daemon for a path.
func (h *heardLive) get(ctx context.Context, s *speed, path string) io.ReadCloser {
	s.t.Helper()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, h.url+path, http.NoBody)
	if err != nil {
		s.t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	return answer.Body
}

// result asks the daemon what it has judged.
func (h *heardLive) result(s *speed) *daemon.Result {
	body := h.get(s.t.Context(), s, "api/result")
	defer body.Close()
	results, err := daemon.Decode(body)
	if err != nil || len(results) != 1 {
		return &daemon.Result{Captures: make([]daemon.Capture, 1)} // nothing has been judged yet
	}
	return &results[0]
}

// used is the processor time of a process so far, by its own clock (clock_getcpuclockid(3)).
func (h *heardLive) used(s *speed) time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(int32(^h.Process.Pid<<3|2), &t); err != nil {
		s.t.Fatal(err)
	}
	return time.Duration(t.Nano())
}

// listens has the daemon listen for a while and returns what that cost, after its first second.
func (s *speed) listens(corners int, hz float64) (frames uint64, cpu, took time.Duration) {
	h := s.hear(corners, hz)
	defer h.end(s)
	for h.result(s).Captures[0].Frames < 100 {
		time.Sleep(20 * time.Millisecond)
	}
	during := 300 * time.Millisecond
	if s.effort.bench > 0 {
		during = 8 * time.Second
		time.Sleep(time.Second)
	}
	from, before, begun := h.result(s).Captures[0].Frames, h.used(s), time.Now()
	time.Sleep(during)
	cpu, took, frames = h.used(s)-before, time.Since(begun), h.result(s).Captures[0].Frames-from
	if frames == 0 {
		s.t.Fatal("nothing was heard")
	}
	return frames, cpu, took
}

// starts measures how soon something is said.
func (s *speed) starts() {
	var ready, heard, verdict, whole, second []float64
	ms := func(d time.Duration) float64 { return float64(d) / 1e6 }
	for range s.effort.starts {
		h := s.hear(4, 200)
		first, seen := s.firstSecond(h)
		said := <-h.said
		h.end(s)
		ready = append(ready, ms(h.ready.Sub(h.began)))
		heard = append(heard, ms(first.Sub(h.began)))
		verdict = append(verdict, ms(said.Sub(first)))
		whole = append(whole, ms(said.Sub(h.began)))
		second = append(second, ms(seen.Sub(first)-time.Second))
	}
	out := s.sheet("From the start to a verdict", fmt.Sprintf("`plumbline run` on four corners at 200 Hz that send all the time, started %d times. Verdicts are printed at once; the page is sent a\n"+
		"state at most ten times a second.", s.effort.starts), "from, to", "median, ms", "longest, ms")
	for _, row := range []struct {
		what string
		took []float64
	}{
		{"start of the process, it listens", ready},
		{"start of the process, first frame", heard},
		{"first frame, first verdict printed", verdict},
		{"start of the process, first verdict printed", whole},
		{"end of the first second of data, page has what that second says", second},
	} {
		out.row(row.what, figure(median(row.took)), figure(slices.Max(row.took)))
	}
	late := slices.Max(whole) - 1000
	s.goal(late < 150, "start to first verdict: under 150 ms after the first second of data", "first verdict %s ms after the start of the process, at the latest %s ms", figure(median(whole)), figure(slices.Max(whole)))
	s.goal(slices.Max(second) < 150, "the verdicts of the first second: under 150 ms after it, on the page", "%s ms, at the latest %s ms", figure(median(second)), figure(slices.Max(second)))
}

// firstSecond waits at the stream of the page until it shows what the first second of data says, and returns
// when the first frame came and when the page had it.
func (s *speed) firstSecond(h *heardLive) (first, seen time.Time) {
	ctx, cancel := context.WithTimeout(s.t.Context(), 20*time.Second)
	defer cancel()
	body := h.get(ctx, s, "api/stream")
	defer body.Close()
	lines := bufio.NewReader(body)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			s.t.Fatal(err)
		}
		seen = time.Now()
		text, ok := strings.CutPrefix(line, "data: ")
		if !ok || !strings.Contains(text, `"captures"`) {
			continue
		}
		var result daemon.Result
		if err := json.Unmarshal([]byte(text), &result); err != nil {
			s.t.Fatal(err)
		}
		if c := &result.Captures[0]; c.First != 0 && c.Last >= c.First+daemon.Instant(time.Second) {
			return time.Unix(0, int64(c.First)), seen
		}
	}
}
