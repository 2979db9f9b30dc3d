package report

import (
	"strings"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/socketcan"
	"plumbline/daemon"
)

func liveSurvey(info *socketcan.Info) *daemon.Survey {
	return &daemon.Survey{
		File: "can0", Live: true, Frames: 120, First: 1_700_000_000_000_000_000, Last: 1_700_000_001_000_000_000,
		Interfaces: []daemon.SurveyInterface{{Name: "can0", Frames: 120, State: "can0: frames arrive, at 500 kbit/s", CAN: info}},
		Messages: []daemon.SurveyMessage{{
			ID: 0x100, Name: "FL_Forces", Frames: 120, Rate: 119, Now: 100.5, Median: 8 * time.Millisecond, LongestData: 8, ShortestData: 8,
			Signals: []daemon.SurveySignal{{Name: "Fx", Unit: "N", Values: 120, Min: -5, Max: 7, Last: 1.5}, {Name: "Fz", Unit: "N"}},
		}},
		Links:    []daemon.SurveyLink{{At: 1_700_000_000_000_000_000, Link: bus.ErrorActive, Text: "can0: frames arrive, at 500 kbit/s"}},
		Earlier:  3,
		Warnings: []string{"one", "two", "three", "four"},
	}
}

// TestController: what is known of a controller, and that "not known" is never shown as zero.
func TestController(t *testing.T) {
	known := socketcan.Controller{
		Known: true, State: socketcan.ErrorPassive, BitRate: 500_000, SamplePoint: 0.875, Mode: socketcan.ListenOnly,
		HasCounters: true, RxErrors: 127, TxErrors: 3, Restart: 100 * time.Millisecond,
	}
	tests := []struct {
		name   string
		info   func(*socketcan.Info)
		want   []string
		absent string
	}{
		{"all", func(*socketcan.Info) {}, []string{"500 kbit/s, sample point 87.5 %, state ERROR-PASSIVE, listen-only, error counters: receive 127, transmit 3, restarts 100 ms after bus-off"}, "NOT"},
		{"not listen-only", func(i *socketcan.Info) { i.Controller.Mode = 0 }, []string{"NOT listen-only"}, ""},
		{"FD", func(i *socketcan.Info) {
			i.FD, i.Controller.Mode, i.Controller.DataBitRate, i.Controller.DataSamplePoint = true, socketcan.FDMode, 2_000_000, 0.75
		}, []string{"data phase 2000 kbit/s, sample point 75.0 %", "passes FD frames"}, ""},
		{"no counters", func(i *socketcan.Info) { i.Controller.HasCounters = false }, []string{"no error counters"}, "receive 0"},
		{"no bit rate", func(i *socketcan.Info) { i.Controller.BitRate = 0 }, []string{"no bit rate is set"}, "kbit/s"},
		{"no error information", func(i *socketcan.Info) { i.Controller = socketcan.Controller{} }, []string{"no error information"}, "ERROR-ACTIVE"},
		{"virtual", func(i *socketcan.Info) { i.Virtual = true }, []string{"virtual, there is no controller"}, "kbit/s"},
		{"gone", func(i *socketcan.Info) { i.Index = 0 }, []string{"nothing is known of a controller"}, "kbit/s"},
		{"adapter", func(i *socketcan.Info) {
			i.Adapter = socketcan.Adapter{Product: "Adapter", Serial: "0001", Driver: "drv"}
		}, []string{"adapter Adapter 0001 drv"}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			info := &socketcan.Info{Name: "can0", Index: 3, Controller: known}
			tt.info(info)
			got := controller(info)
			for _, want := range tt.want {
				if !strings.Contains(got, want) {
					t.Errorf("got %q, want %q in it", got, want)
				}
			}
			if tt.absent != "" && strings.Contains(got, tt.absent) {
				t.Errorf("got %q, which says %q", got, tt.absent)
			}
		})
	}
}

// TestGlance: it fits the window, says how much it left out, and shows the newest warnings.
func TestGlance(t *testing.T) {
	for _, lines := range []int{1, 2, 5, 10, 100} {
		var out strings.Builder
		n, err := Glance(&out, liveSurvey(nil), Style{Width: 40}, lines)
		if err != nil {
			t.Fatal(err)
		}
		got := out.String()
		if strings.Count(got, "\n") != n || n > lines {
			t.Errorf("%d lines, said %d, may have %d", strings.Count(got, "\n"), n, lines)
		}
		for line := range strings.Lines(got) {
			if w := len([]rune(strings.TrimSuffix(line, "\n"))); w > 40 {
				t.Errorf("%d columns: %q", w, line)
			}
		}
		if (lines < 15) != strings.Contains(got, "more lines") {
			t.Errorf("%d lines:\n%s", lines, got)
		}
		if lines == 100 && (strings.Contains(got, "! one") || !strings.Contains(got, "! four")) {
			t.Errorf("want the three newest warnings:\n%s", got)
		}
	}
}

// TestSurveyLive: the whole at the end.
func TestSurveyLive(t *testing.T) {
	var out strings.Builder
	if err := Survey(&out, liveSurvey(nil), Style{}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"! one", "can0: frames arrive, at 500 kbit/s", "What happened\n  3 changes before these\n  22:13:20.0  can0: frames", "119.0  100.5", "1.5  in  −5  to     7  N", "never"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
}
