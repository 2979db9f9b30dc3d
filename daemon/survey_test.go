package daemon

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

func TestLook(t *testing.T) {
	file, err := dbc.Parse("wheels.dbc", []byte(wheelsDBC))
	if err != nil {
		t.Fatal(err)
	}
	frames := wheel(101)
	for i := 51; i < len(frames); i++ {
		frames[i].At += 500_000_000
	}
	frames[100].Len = 3 // too short for all but the first signal
	frames = append(
		frames,
		bus.Frame{At: start + 2e9, ID: 0x18FF0102, Flags: bus.Extended, Len: 2},
		bus.Frame{At: start + 2e9, ID: 0x20, Flags: bus.Error, Len: 8},
		bus.Frame{At: start + 2e9, ID: 0x100, Flags: bus.Remote, Len: 8, Source: 1},
	)
	src := &memory{
		names: []string{"can0", "can1"}, frames: frames,
		notes: []bus.Note{{Before: 10, At: start + 1e8, Kind: bus.Mark, Text: "turn FL"}, {Before: 20, Kind: bus.Loss, Source: 1, Count: 4}, {Before: 104, Kind: bus.Warning, Text: "x.log:105: cut"}},
	}
	got, err := Look(t.Context(), "x.log", src, []*dbc.File{file, file})
	if err != nil {
		t.Fatal(err)
	}
	want := &Survey{
		File: "x.log", Frames: 104, First: Instant(start), Last: Instant(start + 2e9),
		Interfaces: []SurveyInterface{{Name: "can0", Frames: 103, Errors: 1}, {Name: "can1", Frames: 1, Remote: 1, Lost: 4}},
		Messages: []SurveyMessage{
			{
				ID: 0x100, Name: "FL_Forces", Frames: 101, Rate: 100 / 1.5,
				Median: 10 * time.Millisecond, Shortest: 10 * time.Millisecond, Gap: 510 * time.Millisecond, GapAt: Instant(start + 500_000_000),
				ShortestData: 3, LongestData: 8,
				Signals: []SurveySignal{
					{Name: "Fx", Unit: "N", Values: 101, Min: 20, Max: 21, Last: 20.5},
					{Name: "Fz", Unit: "N", Values: 100, Min: -21, Max: -20, Last: -20},
					{Name: "Theta", Unit: "deg", Values: 100, Min: 0, Max: 99 * 5 * 360. / 2048, Last: 99 * 5 * 360. / 2048},
				},
			},
			{ID: 0x18FF0102, Extended: true, Frames: 1, ShortestData: 2, LongestData: 2},
		},
		Marks: []SurveyMark{{Instant(start + 1e8), "turn FL"}},
		Warnings: []string{
			"wheels.dbc:3: message FL_Forces has the identifier of FL_Forces and is left out",
			"x.log:105: cut",
		},
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}

// TestLookBounded: any number of identifiers, and memory for some.
func TestLookBounded(t *testing.T) {
	frames := make([]bus.Frame, maxIdentifiers+10)
	for i := range frames {
		frames[i] = bus.Frame{At: start, ID: uint32(i), Flags: bus.Extended}
	}
	got, err := Look(t.Context(), "noise.log", &memory{names: []string{"can0"}, frames: frames}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Messages) != maxIdentifiers || got.Further != 10 {
		t.Errorf("got %d identifiers and %d frames of others, want %d and 10", len(got.Messages), got.Further, maxIdentifiers)
	}
}

func TestPeriods(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	draw := func(n int, f func() float64) []time.Duration {
		out := make([]time.Duration, n)
		for i := range out {
			out[i] = time.Duration(f())
		}
		return out
	}
	tests := []struct {
		name string
		all  []time.Duration
	}{
		{"none", nil},
		{"one", []time.Duration{12345}},
		{"zero", []time.Duration{0, 0, 0}},
		{"small", draw(1001, func() float64 { return float64(random.IntN(40)) })},
		{"log-normal", draw(10001, func() float64 { return 1e7 * math.Exp(random.NormFloat64()) })},
		{"extremes", []time.Duration{math.MaxInt64, math.MaxInt64, 1}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var p periods
			for _, d := range test.all {
				p.add(d)
			}
			var want time.Duration
			if len(test.all) > 0 {
				slices.Sort(test.all)
				want = test.all[(len(test.all)-1)/2]
			}
			// one bin is 1/32 wide
			if got := p.median(); math.Abs(float64(got-want)) > float64(want)/32 {
				t.Errorf("got %v, want %v within 3 %%", got, want)
			}
		})
	}
}
