package web

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// striped is a snapshot of one corner whose fz and temperature have these values by column of the last minute;
// NaN: nothing came.
func striped(force, temperature func(column int) float64) *daemon.Snapshot {
	k := checks.Corner{Name: "FL", Channels: checks.NoChannels()}
	k.Channels[checks.Fz], k.Channels[checks.Temperature] = 0, 1
	s := &daemon.Snapshot{At: 1000e9, Setup: &setup.Setup{}}
	s.Setup.Checks = checks.Setup{Corners: []checks.Corner{k}, Channels: make([]checks.Channel, 2), Limits: checks.DefaultLimits()}
	s.Now = checks.Now{At: s.At, Corners: make([]checks.CornerState, 1), Channels: make([]checks.ChannelState, 2)}
	first := s.At/checks.ColumnNs - checks.StripColumns
	for ch, value := range []func(int) float64{force, temperature} {
		state := &s.Now.Channels[ch]
		*state = checks.ChannelState{Known: true, At: s.At, RateHz: []float64{200, 0.5}[ch], Ten: checks.Window{Samples: 100, Mean: 23.4, Noise: 0.12}}
		var b *checks.Block
		for i := range checks.StripColumns {
			at := first + int64(i)
			if b == nil || at-b.First >= int64(len(b.Columns)) {
				b = &checks.Block{First: at - at%int64(len(b.Columns))}
				state.Strip = append(state.Strip, b)
			}
			if v := value(i); !math.IsNaN(v) {
				b.Columns[at-b.First] = checks.Column{Samples: 50, Low: float32(v - 5), High: float32(v + 5), Mean: float32(v)}
			}
		}
	}
	return s
}

func TestStrip(t *testing.T) {
	nan := math.NaN()
	steady := func(int) float64 { return 331.5 }
	slow := func(i int) float64 { // one value in two seconds
		if i%8 != 0 {
			return nan
		}
		return 23.4
	}
	hole := func(from, to int) func(int) float64 {
		return func(i int) float64 {
			if i >= from && i < to {
				return nan
			}
			return 331.5
		}
	}
	tests := []struct {
		name   string
		force  func(int) float64
		wanted string
		label  string
		gaps   int
		pieces int // of the line of the means
		limits int
	}{
		{name: "steady", force: steady, label: "Fz", pieces: 1},
		{name: "a column lost is no gap", force: hole(100, 101), label: "Fz", pieces: 1},
		{name: "a second lost", force: hole(100, 104), label: "Fz", gaps: 1, pieces: 2},
		{name: "begun lately", force: hole(0, 200), label: "Fz", pieces: 1},
		{name: "silent now", force: hole(200, 240), label: "Fz", gaps: 1, pieces: 1},
		{name: "slow, with limits", force: steady, wanted: "temperature", label: "Temperature", pieces: 1, limits: 2},
		{name: "no such channel", force: steady, wanted: "fx", label: "Fz", pieces: 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			st, s := newStage(t, Config{})
			st.now.Store(striped(tt.force, slow))
			m := s.refresh()
			c := composer{m: m, lang: english, words: s.words}
			v := c.strip(&m.snapshot.Setup.Checks.Corners[0].Channels, tt.wanted, "/corner/FL", cornerLimits(&m.snapshot.Setup.Checks.Limits))
			if v.Label != tt.label || len(v.Gaps) != tt.gaps || strings.Count(v.Line, "M") != tt.pieces || len(v.Limits) != tt.limits || len(v.Choices) != 2 {
				t.Errorf("%s with %d gaps, %d pieces, %d limits, %d choices; want %s with %d, %d, %d, 2", v.Label, len(v.Gaps), strings.Count(v.Line, "M"), len(v.Limits), len(v.Choices),
					tt.label, tt.gaps, tt.pieces, tt.limits)
			}
			for _, number := range regexp.MustCompile(`[-\d.]+`).FindAllString(v.Band+v.Line, -1) {
				if x, err := strconv.ParseFloat(number, 64); err != nil || x < 0 || x > 720 {
					t.Fatalf("the drawing has %s, want it within the frame", number)
				}
			}
		})
	}
	st, s := newStage(t, Config{})
	st.now.Store(striped(func(i int) float64 { return 0.2 * math.Sin(float64(i)) }, slow))
	page := get(s, "/corner/FL?channel=temperature&lang=de").Body.String()
	for _, want := range []string{"23,4", "Grenze −40,0 … 85,0 °C", "jetzt", `href="/corner/FL?channel=fz&amp;lang=de#strip"`, `data-channel="temperature"`, `aria-current="true">Temperatur`} {
		if !strings.Contains(page, want) {
			t.Errorf("the German strip has no %q", want)
		}
	}
	nothing := func(int) float64 { return nan }
	st.now.Store(striped(nothing, nothing))
	if page := get(s, "/corner/FL").Body.String(); !strings.Contains(page, "Nothing has come in the last minute.") || strings.Contains(page, "timeline") {
		t.Error("a silent channel has a drawing, or is not said to be silent")
	}
}

func TestRoundStep(t *testing.T) {
	for v, want := range map[float64]float64{0.9: 1, 1: 1, 1.1: 2, 2.1: 5, 5.1: 10, 1234: 2000, 0.03: 0.05, 0: 0, math.Inf(1): 0} {
		if got := roundStep(v); math.Abs(got-want) > 1e-12*want {
			t.Errorf("roundStep(%v) = %v, want %v", v, got, want)
		}
	}
}
