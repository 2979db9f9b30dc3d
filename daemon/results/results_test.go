package results

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

// frozen simulates a function test of one wheel, recorded, and freezes it at its end.
func frozen(t *testing.T, faults ...string) *daemon.Frozen {
	t.Helper()
	cfg := simulated.Standard(1)
	cfg.Name, cfg.Script = "Minibus 7 Süd", cfg.FunctionShort()
	for _, text := range faults {
		f, err := simulated.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	s, err := setup.Parse("somewhere/demo.yaml", []byte(cfg.SetupYAML()), func(string) ([]byte, error) { return []byte(cfg.DBCs()[0].Text), nil })
	if err != nil {
		t.Fatal(err)
	}
	bench, err := daemon.NewBench(s, "plumbline (test)")
	if err != nil {
		t.Fatal(err)
	}
	recorder, err := record.New(record.Config{Dir: t.TempDir(), Sync: 10 * time.Millisecond, PartBytes: 200_000})
	if err != nil {
		t.Fatal(err)
	}
	var joined sync.WaitGroup
	ctx, cancel := context.WithCancel(t.Context())
	defer joined.Wait()
	defer cancel()
	joined.Go(func() { _ = recorder.Run(ctx) })
	vehicle := func() (bus.Source, error) { return simulated.New(cfg) }
	ended := make(chan struct{})
	d := &daemon.Desk{Bench: bench, File: "demo", Recorder: recorder, Renew: vehicle, Ended: func() { close(ended) }}
	src, err := vehicle()
	if err != nil {
		t.Fatal(err)
	}
	joined.Go(func() { _ = d.Run(ctx, src) })
	<-ended
	f, err := d.Freeze(t.Context(), "AB")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func signing(f *daemon.Frozen) *Signing {
	return &Signing{
		Test: f, Program: "plumbline (test)", Signed: 1_700_000_500_000_000_000, Language: report.English,
		Form:       daemon.Form{Performed: "A. Berg <b>", Initials: "AB", Place: "../../etc/Halle 3", Customer: "C. Dorn"},
		Deviations: []daemon.Deviation{{Step: "roll", Text: "Rolled a metre", Reason: "no room", At: 1_700_000_400_000_000_000}},
	}
}

func opened(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// list lists what is in a folder and below, with its size.
func tree(t *testing.T, dir string) []string {
	t.Helper()
	var list []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || path == dir {
			return err
		}
		name, err := filepath.Rel(dir, path)
		list = append(list, filepath.ToSlash(name))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestSign signs a test; the folder proves itself, replays to the same findings, and lists.
func TestSign(t *testing.T) {
	f := frozen(t, "zero:FL=115")
	for i := range f.Result.Confirmations {
		c := &f.Result.Confirmations[i]
		switch c.ID {
		case "wheel-bolts":
			c.Value, c.Initials, c.At = new(120.0), "AB", 1_700_000_300_000_000_000 // outside of the range
		case "cable":
			c.State, c.Initials, c.Reason, c.At = daemon.StateNotPossible, "CD", "no second line here", 1_700_000_300_000_000_000
		}
	}
	dir := filepath.Join(t.TempDir(), "tests")
	s := opened(t, dir)
	e, err := s.Sign(t.Context(), signing(f))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(e.Name, "20231114T221320Z-minibus-7-s-d-") || !strings.HasSuffix(e.Report, strings.ToUpper(e.Name[len(e.Name)-8:])+e.Report[len(e.Report)-2:]) || len(e.Name) != len("20231114T221320Z-minibus-7-s-d-")+8 {
		t.Errorf("the folder is called %s, the report %s, want start, vehicle and eight digits of the report", e.Name, e.Report)
	}
	in := filepath.Join(dir, e.Name)
	got := tree(t, dir)
	want := []string{e.Name}
	for _, name := range []string{sumsFile, recordingDir} {
		want = append(want, e.Name+"/"+name)
	}
	for _, p := range f.Parts {
		want = append(want, e.Name+"/"+recordingDir+"/"+filepath.Base(p))
	}
	for _, name := range []string{reportFile, resultFile, "setup.yaml", signFile, "vehicle.dbc"} {
		want = append(want, e.Name+"/"+name)
	}
	slices.Sort(got)
	slices.Sort(want)
	if diff := cmp.Diff(got, want); diff != "" || len(f.Parts) < 2 {
		t.Errorf("got before want (%d parts):\n%s", len(f.Parts), diff)
	}

	t.Run("proves itself", func(t *testing.T) {
		program, err := exec.LookPath("sha256sum")
		if err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatal("no sha256sum: apt-get install coreutils")
			}
			t.Skip("no sha256sum: apt-get install coreutils")
		}
		c := exec.CommandContext(t.Context(), program, "--check", "--strict", sumsFile)
		c.Dir = in
		if out, err := c.CombinedOutput(); err != nil || strings.Count(string(out), ": OK\n") != len(want)-3 {
			t.Errorf("%v, want %d files OK:\n%s", err, len(want)-3, out)
		}
	})
	t.Run("replays", func(t *testing.T) { replays(t, in) })
	t.Run("report", func(t *testing.T) {
		page, err := os.ReadFile(filepath.Join(in, reportFile))
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{e.Report, "A. Berg &lt;b&gt; (AB)", "no room", "Rolled a metre", "out of range", "not possible", "no second line here", "FAIL", recordingDir + "/" + filepath.Base(f.Parts[0])} {
			if !strings.Contains(string(page), want) {
				t.Errorf("the report does not say %q", want)
			}
		}
	})
	t.Run("modes", func(t *testing.T) {
		for _, name := range append(got, ".") {
			info, err := os.Stat(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			want := fs.FileMode(fileMode)
			if info.IsDir() {
				want = dirMode
			}
			if info.Mode().Perm()&^want != 0 {
				t.Errorf("%s: mode %v, want no more than %v", name, info.Mode().Perm(), want)
			}
		}
	})
	t.Run("list", func(t *testing.T) {
		list, err := opened(t, dir).List()
		if err != nil || len(list) != 1 {
			t.Fatalf("%v, %+v, want one test", err, list)
		}
		if diff := cmp.Diff(list[0], e); diff != "" {
			t.Errorf("read back, before as it was written:\n%s", diff)
		}
		if e.Verdict != checks.Fail || e.Failed == 0 || e.Deviations != 2 || e.Unconfirmed != len(f.Result.Confirmations) || e.Form.Performed != "A. Berg <b>" {
			t.Errorf("%+v", e)
		}
	})
	t.Run("twice", func(t *testing.T) {
		if _, err := s.Sign(t.Context(), signing(f)); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%v, want that it is there", err)
		}
		if again := tree(t, dir); len(again) != len(got) {
			t.Errorf("there is more than before:\n%s", cmp.Diff(again, got))
		}
	})
}

// replays judges the recording of a signed test by its own setup: the findings are those of its result.
func replays(t *testing.T, in string) {
	t.Helper()
	s, err := setup.Load(filepath.Join(in, "setup.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	b, err := daemon.NewBench(s, "plumbline (test)")
	if err != nil {
		t.Fatal(err)
	}
	parts, err := record.Parts(filepath.Join(in, recordingDir))
	if err != nil {
		t.Fatal(err)
	}
	results, err := b.Replay(t.Context(), []string{"recording"}, func(string) (bus.Source, error) { return record.Open(parts) })
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(in, resultFile))
	if err != nil {
		t.Fatal(err)
	}
	var signed daemon.Result
	if err := json.Unmarshal(text, &signed); err != nil {
		t.Fatal(err)
	}
	var again daemon.Result
	if text, err = json.Marshal(results[0]); err == nil {
		err = json.Unmarshal(text, &again)
	}
	if err != nil || len(signed.Findings) == 0 {
		t.Fatalf("%v, %d findings", err, len(signed.Findings))
	}
	if diff := cmp.Diff(again.Findings, signed.Findings); diff != "" {
		t.Errorf("replayed before signed:\n%s", diff)
	}
	if diff := cmp.Diff(again.Causes, signed.Causes); diff != "" || again.Verdict != signed.Verdict {
		t.Errorf("%v before %v:\n%s", again.Verdict, signed.Verdict, diff)
	}
	if again.Captures[0].Frames != signed.Captures[0].Frames {
		t.Errorf("replayed %d frames, signed %d", again.Captures[0].Frames, signed.Captures[0].Frames)
	}
}

// TestGoneParts: a part that was removed to keep the bound of the recording ends the signing, and nothing is half there.
func TestGoneParts(t *testing.T) {
	f := frozen(t)
	f.Parts = append(f.Parts, filepath.Join(t.TempDir(), "gone.pcapng"))
	dir := t.TempDir()
	s := opened(t, dir)
	if _, err := s.Sign(t.Context(), signing(f)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v, want that the part is not there", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f.Parts = f.Parts[:1]
	if _, err := s.Sign(ctx, signing(f)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want canceled", err)
	}
	if left := tree(t, dir); len(left) > 0 {
		t.Errorf("left over: %q", left)
	}
}

// TestList: names that are asked for reach no file that the list does not know.
func TestList(t *testing.T) {
	dir := t.TempDir()
	s := opened(t, dir)
	var names []string
	for i, vehicle := range []string{"B", "A"} {
		f := &daemon.Frozen{Result: daemon.Result{Setup: daemon.SetupFile{Vehicle: vehicle}}, Setup: &setup.Setup{File: "x.yaml", Text: []byte("x")}}
		g := signing(f)
		g.Signed += daemon.Instant(i) * 1e9
		e, err := s.Sign(t.Context(), g)
		if err != nil {
			t.Fatal(err)
		}
		names = append([]string{e.Name}, names...)
	}
	secret := filepath.Join(filepath.Dir(dir), "secret.html")
	if err := os.WriteFile(secret, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	defer os.Remove(secret)
	bad := "20240101T000000Z-bad-00000000"
	linked := "20250101T000000Z-linked-00000000"
	planted := "20260101T000000Z-planted-00000000"
	for _, err := range []error{
		os.MkdirAll(filepath.Join(dir, bad), 0o750),
		os.WriteFile(filepath.Join(dir, bad, signFile), []byte(`{"schema": 1, "name": "`+names[0]+`"}`), 0o600),
		os.Symlink(filepath.Dir(dir), filepath.Join(dir, linked)),
		os.MkdirAll(filepath.Join(dir, planted), 0o750),
		os.WriteFile(filepath.Join(dir, planted, signFile), []byte(`{"schema": 1, "name": "`+planted+`"}`), 0o600),
		os.Symlink(secret, filepath.Join(dir, planted, reportFile)),
		os.MkdirAll(filepath.Join(dir, "recording"), 0o750),
		os.MkdirAll(filepath.Join(dir, unfinished+names[0]), 0o750),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	list, err := s.List()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, fmt.Sprint(e.Name, " ", e.Trouble != ""))
	}
	want := []string{planted + " false", bad + " true", names[0] + " false", names[1] + " false"}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("got before want, newest first:\n%s", diff)
	}
	for _, name := range []string{bad, linked, planted, "", ".", "..", "../" + filepath.Base(dir) + "/" + names[0], names[0] + "/", strings.ToLower(names[0]), "recording", names[0] + "\x00"} {
		if f, err := s.File(name, reportFile); err == nil {
			text, _ := io.ReadAll(f)
			t.Errorf("%q can be read: %q", name, text)
		}
	}
	for _, file := range []string{signFile, sumsFile, "../" + names[1] + "/" + reportFile, "", "setup.yaml"} {
		if _, err := s.File(names[0], file); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%q: %v, want that there is no such file", file, err)
		}
	}
	for _, file := range []string{reportFile, resultFile} {
		f, err := s.File(names[0], file)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(f)
		if err = errors.Join(err, f.Close()); err != nil || len(text) == 0 {
			t.Errorf("%s: %v, %d bytes", file, err, len(text))
		}
	}
}

// TestOpenCleans removes what a crash has left, and nothing else.
func TestOpenCleans(t *testing.T) {
	dir := t.TempDir()
	old, young, other := unfinished+"20240101T000000Z-x-00000000", unfinished+"20240101T000000Z-y-00000000", unfinished+"notes"
	for _, name := range []string{old, young, other} {
		path := filepath.Join(dir, name)
		if err := os.Mkdir(path, 0o750); err != nil {
			t.Fatal(err)
		}
		if name != young {
			if err := os.Chtimes(path, time.Now().Add(-2*forgotten), time.Now().Add(-2*forgotten)); err != nil {
				t.Fatal(err)
			}
		}
	}
	opened(t, dir)
	if diff := cmp.Diff(tree(t, dir), []string{young, other}); diff != "" {
		t.Errorf("left, before what is to be left:\n%s", diff)
	}
}

func TestSlug(t *testing.T) {
	for name, want := range map[string]string{
		"Minibus 7": "minibus-7", "": "vehicle", "../../etc/passwd": "etc-passwd", "  ": "vehicle", "Ünï": "n", "日本": "vehicle", "a\x00b\nc": "a-b-c",
		strings.Repeat("x-", 60): strings.TrimSuffix(strings.Repeat("x-", 20), "-") + "-x", "COM1": "com1", "-a-": "a",
	} {
		got := slug(name)
		if name == strings.Repeat("x-", 60) {
			if len(got) > maxSlug+1 || !namePattern.MatchString("20240101T000000Z-"+got+"-00000000") {
				t.Errorf("a long name becomes %q", got)
			}
			continue
		}
		if got != want || !namePattern.MatchString("20240101T000000Z-"+got+"-00000000") {
			t.Errorf("%q becomes %q, want %q", name, got, want)
		}
	}
}
