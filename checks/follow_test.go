package checks

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestFollow: a supply that dips twice has failed twice, and a message that stays away too, although the
// verdicts of both say fail for good from then on.
func TestFollow(t *testing.T) {
	const second = int64(1e9)
	start := 1000 * second
	channels := NoChannels()
	channels[Supply] = 0
	j := New(Setup{
		Sources:  []string{"wheels"},
		Messages: []Message{{Name: "State", Period: 0.1}},
		Channels: []Channel{{Name: "State.Volt", Quantity: Supply, Step: 0.01, High: 100}},
		Corners:  []Corner{{Name: "FL", Channels: channels}},
		Limits:   DefaultLimits(),
	})
	at := start
	until := func(s int64, volt float64, heard bool) {
		for ; at < start+s*second; at += second / 10 {
			if heard {
				j.Message(at, 0, 8, false, []Sample{{Channel: 0, Value: volt}})
			}
			j.Advance(at)
			j.Follow(at)
		}
	}
	steps := []struct {
		name   string
		until  int64 // s
		volt   float64
		silent bool
		supply Failed // times in s
		alive  Failed
	}{
		{name: "well", until: 10, volt: 12},
		{name: "first dip", until: 12, volt: 8, supply: Failed{10, 10, 11, 1, true}},
		{name: "just after it", until: 20, volt: 12, supply: Failed{10, 10, 12, 1, true}},
		{name: "well again", until: 40, volt: 12, supply: Failed{10, 10, 12, 1, false}},
		{name: "second dip", until: 42, volt: 8, supply: Failed{10, 40, 41, 2, true}},
		{name: "away", until: 50, silent: true, supply: Failed{10, 40, 49, 2, true}, alive: Failed{44, 44, 49, 1, true}},
		{name: "back", until: 90, volt: 12, supply: Failed{10, 40, 49, 2, false}, alive: Failed{44, 44, 52, 1, false}}, // what was away is lost, and not late, 16 periods later
	}
	for _, s := range steps {
		until(s.until, s.volt, !s.silent)
		got := map[string]Failed{}
		for _, f := range j.Result().Findings {
			if f.Failed.Count > 0 {
				f.Failed.First -= start
				f.Failed.Began -= start
				f.Failed.Last -= start
				got[f.Check] = f.Failed
			}
		}
		want := map[string]Failed{}
		for check, f := range map[string]Failed{"supply": s.supply, "alive": s.alive} {
			if f.Count > 0 {
				f.First, f.Began, f.Last = f.First*second, f.Began*second, f.Last*second
				want[check] = f
			}
		}
		if d := cmp.Diff(got, want); d != "" {
			t.Errorf("%s, got before want:\n%s", s.name, d)
		}
	}
}
