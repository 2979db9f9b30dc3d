package main

import (
	"bytes"
	"io"
	"runtime/debug"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
	"plumbline/bus/candump"
)

func TestColour(t *testing.T) {
	for _, test := range []struct {
		when string
		want bool
	}{{"auto", false}, {"always", true}, {"never", false}} { // a buffer is no terminal
		got := call(t, "demo", "--corners", "1", "--color", test.when)
		if has := strings.Contains(got.out, "\x1b["); has != test.want {
			t.Errorf("--color %s: colour %v, want %v", test.when, has, test.want)
		}
	}
}

func TestUTF8Locale(t *testing.T) {
	tests := []struct {
		name string
		env  map[string]string
		want bool
	}{
		{"nothing set", nil, true},
		{"UTF-8", map[string]string{"LANG": "de_DE.UTF-8"}, true},
		{"utf8", map[string]string{"LC_CTYPE": "C.utf8"}, true},
		{"plain", map[string]string{"LANG": "C"}, false},
		{"LC_ALL goes first", map[string]string{"LC_ALL": "POSIX", "LANG": "de_DE.UTF-8"}, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := utf8Locale(func(name string) string { return test.env[name] }); got != test.want {
				t.Errorf("got %v, want %v", got, test.want)
			}
		})
	}
}

func TestVersionLine(t *testing.T) {
	info := &debug.BuildInfo{Main: debug.Module{Version: "v1.2.3"}, Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "abc123"}, {Key: "vcs.time", Value: "2026-01-02T03:04:05Z"}, {Key: "vcs.modified", Value: "true"},
	}}
	if got, want := versionLine(info), "plumbline v1.2.3, revision abc123 of 2026-01-02T03:04:05Z with changes, go"; !strings.HasPrefix(got, want) {
		t.Errorf("got %q, want it to begin with %q", got, want)
	}
	if got, want := versionLine(&debug.BuildInfo{}), "plumbline (devel), go"; !strings.HasPrefix(got, want) {
		t.Errorf("got %q, want it to begin with %q", got, want)
	}
}

// halfway is a source that knows how far it is.
type halfway struct{ bus.Source }

func (halfway) Fraction() (float64, bool) { return 0.5, true }

func TestProgress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var drawn bytes.Buffer
		p := newProgress(&drawn, 2, 40, true)
		src := p.track("a\x1b.log", halfway{candump.NewReader("a", strings.NewReader("(1.000000) can0 100#00\n"))})
		time.Sleep(progressAfter + progressEvery/2)
		synctest.Wait()
		var b bus.Batch
		for src.Read(&b) == nil {
		}
		time.Sleep(progressEvery)
		p.end()
		want := "\r\x1b[K 25 %  0.0 M frames  a?.log\r\x1b[K 50 %  0.0 M frames\r\x1b[K"
		if got := drawn.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	})
}

// TestProgressOff: without a terminal nothing is drawn, and nothing runs.
func TestProgressOff(t *testing.T) {
	p := newProgress(io.Discard, 1, 80, false)
	src := candump.NewReader("a", strings.NewReader(""))
	if got := p.track("a", src); got != bus.Source(src) {
		t.Errorf("got %T, want the source itself", got)
	}
	p.end()
}
