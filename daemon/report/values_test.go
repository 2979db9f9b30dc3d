package report

import (
	"testing"

	"plumbline/daemon"
)

// A limit reads as what it bounds: a size, or the distance from what is expected.
func TestLimitText(t *testing.T) {
	for _, tt := range []struct {
		check, channel, unit string
		limit                float64
		text, page           string
	}{
		{"zero", "fx", "N", 60, "≤ 60", "± 60"},
		{"weight", "", "", 0.05, "1 ± 0.05", "1 ± 0.05"},
		{"angle-spin", "", "", 0.02, "1 ± 0.02", "1 ± 0.02"},
		{"drag", "", "N·m", 12, "≤ 12", "≤ 12"},
		{"drift", "fy", "N", 60, "≤ 60", "± 60"},
		{"drift", "temperature", "K", 50, "≤ 50", "± 50"},
		{"drift", "noise", "", 3, "≤ 3", "≤ 3"},
		{"drift", "rate", "", 0.02, "≤ 0.02", "≤ 0.02"},
		{"drift", "height_outer", "m", 0.03, "≤ 30", "± 30"},
	} {
		f := daemon.Finding{Check: tt.check, Channel: tt.channel, Unit: tt.unit, Limit: &tt.limit}
		u := readable(tt.unit)
		if got, page := limitText(&f, u), limitOf(nil, &f, u); got != tt.text || page != tt.page {
			t.Errorf("%s %s: got %q and %q, want %q and %q", tt.check, tt.channel, got, page, tt.text, tt.page)
		}
	}
	if got := limitText(&daemon.Finding{Check: "zero"}, readable("N")); got != "" {
		t.Errorf("no limit: got %q", got)
	}
}
