package record

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// The child of the kill test is this test program with these variables.
const (
	childDir   = "PLUMBLINE_TEST_RECORD_DIR"
	childSpeed = "PLUMBLINE_TEST_RECORD_SPEED"
	childZstd  = "PLUMBLINE_TEST_RECORD_ZSTD"
)

func drive(tb testing.TB) *simulated.Vehicle {
	tb.Helper()
	v, err := standardDrive()
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

func standardDrive() (*simulated.Vehicle, error) {
	cfg := simulated.Standard(4)
	cfg.Marks = true
	return simulated.New(cfg)
}

// recordForParent records a drive until it is killed, if this process is such a
// child. It tells how many frames it has handed to Write by which time of its
// clock.
func recordForParent() bool {
	dir := os.Getenv(childDir)
	if dir == "" {
		return false
	}
	if err := recordDrive(dir); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	return true
}

func recordDrive(dir string) error {
	speed, err := strconv.ParseInt(os.Getenv(childSpeed), 10, 64)
	if err != nil {
		return err
	}
	v, err := standardDrive()
	if err != nil {
		return err
	}
	r, err := New(Config{Dir: dir, Name: "van", Zstd: os.Getenv(childZstd) != "", PartTime: 700 * time.Millisecond})
	if err != nil {
		return err
	}
	go func() { panic(r.Run(context.Background())) }() // ends with the process
	begun := time.Now()
	b := bus.Batch{Frames: make([]bus.Frame, 0, 32)}
	written := 0
	for told := time.Duration(0); v.Read(&b) == nil; {
		due := time.Duration((b.Frames[0].At - simulated.DefaultStart) / speed)
		time.Sleep(due - time.Since(begun))
		r.Write(&b, v.Names())
		written += len(b.Frames)
		if now := time.Since(begun); now-told > 5*time.Millisecond {
			told = now
			fmt.Println(written, int64(now))
		}
	}
	time.Sleep(time.Minute) // the parent kills before that
	return errors.New("nobody killed the child")
}

// TestKill kills a recording process at random moments, 200 times where
// CI=true: every frame that it had heard a second before is read back, none
// twice, in order, from a folder in which other sessions were killed before.
func TestKill(t *testing.T) {
	kills, atOnce := 20, 10
	if os.Getenv("CI") == "true" {
		kills, atOnce = 200, 16
	}
	whole := &playback{}
	whole.read(t, drive(t))
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var (
		workers     sync.WaitGroup
		left, parts atomic.Int64
		least       atomic.Int64
	)
	left.Store(int64(kills))
	begun := time.Now()
	for k := range atOnce {
		dir := filepath.Join(t.TempDir(), "rec")
		workers.Go(func() {
			random := rand.New(rand.NewPCG(7, uint64(k)))
			n := 0
			for ; left.Add(-1) >= 0 && !t.Failed(); n++ {
				parts.Add(killOne(t, self, dir, whole, random, &least))
			}
			if sessions, err := Sessions(dir); n > 0 && (err != nil || len(sessions) != n) {
				t.Errorf("%d sessions, error %v, want %d", len(sessions), err, n)
			}
		})
	}
	workers.Wait()
	t.Logf("%d kills in %v, %d parts; at most %v of the clock were lost", kills, time.Since(begun).Round(time.Millisecond), parts.Load(), time.Duration(least.Load()).Round(time.Millisecond))
}

// killOne has a child record and kills it. It returns how many parts it left,
// and sets longest to the longest time whose frames were lost.
func killOne(t *testing.T, self, dir string, whole *playback, random *rand.Rand, longest *atomic.Int64) (parts int64) {
	t.Helper()
	cmd := exec.Command(self)
	packed := random.IntN(2) == 1
	cmd.Env = append(os.Environ(), childDir+"="+dir, childSpeed+"="+strconv.Itoa(1+random.IntN(9)))
	if packed {
		cmd.Env = append(cmd.Env, childZstd+"=1")
	}
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Error(err)
		return 0
	}
	if err := cmd.Start(); err != nil {
		t.Error(err)
		return 0
	}
	type told struct {
		frames int
		at     time.Duration
	}
	var all []told
	life := time.Duration(1000+random.IntN(2000)) * time.Millisecond
	var timer *time.Timer
	for in := bufio.NewScanner(out); in.Scan(); {
		var one told
		if n, err := fmt.Sscan(in.Text(), &one.frames, &one.at); n != 2 || err != nil {
			break // cut off by the kill
		}
		if all = append(all, one); timer == nil {
			timer = time.AfterFunc(life, func() { _ = cmd.Process.Kill() }) // Wait tells what became of it
		}
	}
	err = cmd.Wait()
	if len(all) == 0 || cmd.ProcessState.ExitCode() != -1 {
		t.Errorf("the child was not killed: %v", err)
		return 0
	}
	sessions, err := Sessions(dir)
	if err != nil || len(sessions) == 0 {
		t.Errorf("%d sessions, error %v", len(sessions), err)
		return 0
	}
	last := sessions[len(sessions)-1]
	src, err := Open(last.Parts)
	if err != nil {
		t.Error(err)
		return 0
	}
	defer src.Close()
	p := &playback{}
	p.read(t, src)
	end := all[len(all)-1].at
	want, lost := 0, time.Duration(0)
	for _, one := range all {
		if one.at <= end-time.Second {
			want = one.frames
		}
		if one.frames > len(p.frames) && lost == 0 {
			lost = end - one.at
		}
	}
	for was := longest.Load(); int64(lost) > was && !longest.CompareAndSwap(was, int64(lost)); was = longest.Load() {
	}
	if len(p.frames) > len(whole.frames) || !slices.Equal(p.frames, whole.frames[:len(p.frames)]) {
		t.Errorf("%s: the %d frames read back are not the first that were heard", last.Name, len(p.frames))
	}
	if len(p.frames) < want {
		t.Errorf("%s, packed %t: %d frames read back, %d were heard more than a second before the end at %v", last.Name, packed, len(p.frames), want, end)
	}
	marks, heard := p.kinds(bus.Mark), whole.kinds(bus.Mark)
	if len(marks) > len(heard) || !slices.Equal(marks, heard[:len(marks)]) {
		t.Errorf("%s: marks %v, want the first of %v", last.Name, marks, heard)
	}
	for _, n := range heard {
		if n.Before < len(p.frames) && !slices.Contains(marks, n) {
			t.Errorf("%s: no mark %q before frame %d", last.Name, n.Text, n.Before)
		}
	}
	return int64(len(last.Parts))
}
