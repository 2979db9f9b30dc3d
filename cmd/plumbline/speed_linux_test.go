package main

import (
	"bufio"
	"cmp"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"
)

var speedFile = flag.String("speed", "", "measure how fast plumbline is, for some minutes, and write the table to this `file`: go test ./cmd/plumbline -run '^TestSpeed$' -speed FILE")

// effort is how much is measured.
type effort struct {
	frames int           // of the long recording
	drive  float64       // s, of the recordings for growth
	rounds int           // of each contest
	starts int           // of the daemon
	bench  time.Duration // of each benchmark; 0: none is run
}

// TestSpeed measures whole processes, readers, growth and the daemon, and writes daemon/SPEED.md with -speed. Without
// it everything is measured in miniature, to see that it can be: no figure is judged, since machines are busy.
// PLUMBLINE_SPEED_FRAMES makes the long recording shorter than 4 million frames.
func TestSpeed(t *testing.T) {
	e := effort{frames: 4_000, drive: 3, rounds: 1, starts: 1}
	if *speedFile == "" && testing.Short() {
		t.Skip("builds the program and runs it some fifty times")
	}
	if *speedFile != "" {
		e = effort{frames: 4_000_000, drive: 300, rounds: 9, starts: 10, bench: time.Second}
		if n, err := strconv.Atoi(os.Getenv("PLUMBLINE_SPEED_FRAMES")); err == nil && n > 0 {
			e.frames, e.drive = n, max(300*float64(n)/4e6, 3)
		}
	}
	profile := "off"
	if *speedFile != "" { // as what is handed out
		var err error
		if profile, err = filepath.Abs(filepath.FromSlash(profileFile)); err != nil {
			t.Fatal(err)
		}
	}
	s := &speed{t: t, effort: e, program: programFile(t, "-pgo", profile), profile: profile, began: time.Now(), load: loadAverage()}
	s.recordings()
	s.readers()
	s.growth()
	s.live()
	var text strings.Builder
	s.write(&text)
	for _, sheet := range s.sheets {
		if len(sheet.rows) == 0 {
			t.Errorf("%s: nothing was measured", sheet.title)
		}
	}
	if *speedFile == "" {
		return
	}
	if err := os.WriteFile(*speedFile, []byte(text.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// speed collects what was measured.
type speed struct {
	t       *testing.T
	effort  effort
	program string // the file
	profile string // it is built by: a file, or off
	began   time.Time
	load    string
	long    *taped
	goals   []goal
	sheets  []*sheet
}

// goal is a figure that was set, beside what came out.
type goal struct {
	asks, got string
	held      bool
}

func (s *speed) goal(held bool, asks, format string, args ...any) {
	s.goals = append(s.goals, goal{asks, fmt.Sprintf(format, args...), held})
}

// sheet is one table.
type sheet struct {
	title, says string
	head        []string
	rows        [][]string
}

func (s *speed) sheet(title, says string, head ...string) *sheet {
	out := &sheet{title: title, says: says, head: head}
	s.sheets = append(s.sheets, out)
	return out
}

func (s *sheet) row(cells ...string) { s.rows = append(s.rows, cells) }

// write writes everything as Markdown.
func (s *speed) write(w io.Writer) {
	fmt.Fprint(w, "# How fast plumbline is\n\n`bash .ci/run speed` measures this and prints it anew, in some minutes.\n\n")
	fmt.Fprintf(w, "Measured on %s in %.0f s: %s, %d cores, Linux %s, %s %s; load average %s before, %s after.\n",
		s.began.UTC().Format(time.DateOnly), time.Since(s.began).Seconds(), fieldOf("/proc/cpuinfo", "model name"), runtime.NumCPU(),
		firstWord("/proc/sys/kernel/osrelease"), runtime.Version(), runtime.GOARCH, s.load, loadAverage())
	fmt.Fprint(w, "Programs run in turn, so that what a busy machine does to one it does to all. **Wall** and **CPU**, on\n"+
		"all cores, are the least that any round took, which other load disturbs least.\n\n")
	goals := sheet{head: []string{"asked for", "measured", ""}}
	for _, g := range s.goals {
		word := "missed"
		if g.held {
			word = "held"
		}
		goals.row(g.asks, g.got, word)
	}
	goals.write(w)
	for _, sheet := range s.sheets {
		fmt.Fprintf(w, "\n## %s\n\n%s\n\n", sheet.title, sheet.says)
		sheet.write(w)
	}
}

func (s *sheet) write(w io.Writer) {
	line := func(cells []string) { fmt.Fprintf(w, "| %s |\n", strings.Join(cells, " | ")) }
	line(s.head)
	rule := make([]string, len(s.head))
	for i := range rule {
		rule[i] = cmp.Or(map[bool]string{true: "---"}[i == 0], "---:")
	}
	line(rule)
	for _, row := range s.rows {
		line(row)
	}
}

// fieldOf returns what stands behind "key :" in a file of the kernel.
func fieldOf(file, key string) string {
	f, err := os.Open(file)
	if err != nil {
		return "unknown"
	}
	defer f.Close()
	for scan := bufio.NewScanner(f); scan.Scan(); {
		if name, value, ok := strings.Cut(scan.Text(), ":"); ok && strings.TrimSpace(name) == key {
			return strings.TrimSpace(value)
		}
	}
	return "unknown " + runtime.GOARCH
}

// firstWord returns the first word of a file of the kernel.
func firstWord(file string) string {
	text, _ := os.ReadFile(file) // unknown where it cannot be read
	words := strings.Fields(string(text))
	return append(words, "unknown")[0]
}

func loadAverage() string { return firstWord("/proc/loadavg") }

// benchmark runs a benchmark of another package and returns its figures by name without the common part, as in
// "/8 corners" → "ns/op" → 123: of three runs those of the one that took the least. once is for one that runs for seconds by itself.
func (s *speed) benchmark(pkg, name string, once bool) map[string]map[string]float64 {
	s.t.Helper()
	length := s.effort.bench.String()
	if once {
		length = "1x"
	}
	c := exec.CommandContext(s.t.Context(), "go", "test", "-run", "^$", "-bench", "^Benchmark"+name+"$", "-benchtime", length, "-count", "3", "-pgo", s.profile, pkg)
	c.Dir = filepath.FromSlash("../..")
	out, err := c.CombinedOutput()
	if err != nil {
		s.t.Fatalf("%v: %s", err, out)
	}
	figures := map[string]map[string]float64{}
	for line := range strings.Lines(string(out)) {
		row, ok := strings.CutPrefix(line, "Benchmark"+name)
		words := strings.Fields(row)
		if !ok || len(words) < 4 {
			continue
		}
		of := map[string]float64{}
		for i := 2; i+1 < len(words); i += 2 {
			of[words[i+1]], _ = strconv.ParseFloat(words[i], 64)
		}
		row = strings.TrimSuffix(words[0], "-"+strconv.Itoa(runtime.GOMAXPROCS(0)))
		took := func(of map[string]float64) float64 { return cmp.Or(of["cpu-ns/frame"], of["cpu-ns/op"], of["ns/op"]) }
		if before, ok := figures[row]; !ok || took(of) < took(before) {
			figures[row] = of
		}
	}
	if len(figures) == 0 {
		s.t.Errorf("%s has no benchmark %s", pkg, name)
	}
	return figures
}
