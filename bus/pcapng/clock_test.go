package pcapng

import (
	"math"
	"math/big"
	"testing"
)

// TestClock: the meaning of if_tsresol and if_tsoffset is that of the pcapng
// draft, section 4.2; expected values were worked out by hand.
func TestClock(t *testing.T) {
	tests := []struct {
		name       string
		resolution uint8
		offset     int64
		ticks      uint64
		want       int64
		ok         bool
	}{
		{"µs", 6, 0, 1_700_000_000_123_456, 1_700_000_000_123_456_000, true},
		{"ns", 9, 0, 1_700_000_000_123_456_789, 1_700_000_000_123_456_789, true},
		{"s", 0, 0, 1_700_000_000, 1_700_000_000_000_000_000, true},
		{"100 ns", 7, 0, 17_000_000_001_234_567, 1_700_000_000_123_456_700, true},
		{"ps", 12, 0, 1_234_567_890_123, 1_234_567_890, true},
		{"10^-28 s", 28, 0, math.MaxUint64, 1, true},
		{"10^-29 s", 29, 0, math.MaxUint64, 0, true},
		{"10^-127 s", 127, 0, math.MaxUint64, 0, true},
		{"2^-1 s", 0x81, 0, 3, 1_500_000_000, true},
		{"2^-20 s", 0x80 | 20, 0, 1<<20 + 1<<19, 1_500_000_000, true},
		{"2^-32 s", 0x80 | 32, 0, 5<<32 + 1<<30, 5_250_000_000, true},
		{"2^-64 s", 0x80 | 64, 0, 1 << 63, 500_000_000, true},
		{"2^-65 s", 0x80 | 65, 0, 1 << 63, 250_000_000, true},
		{"2^-127 s", 0x80 | 127, 0, math.MaxUint64, 0, true},
		{"2^0 s", 0x80, 0, 7, 7_000_000_000, true},
		{"offset", 6, 1_700_000_000, 250_000, 1_700_000_000_250_000_000, true},
		{"negative offset", 9, -2, 500, -1_999_999_500, true},
		{"beyond 2262", 9, 0, 1 << 63, 0, false},
		{"beyond 2262 in µs", 6, 0, 1 << 62, 0, false},
		{"beyond 2262 by the offset", 9, maxSeconds, math.MaxInt64, 0, false},
		{"beyond 2262 in 2^-1 s", 0x81, 0, math.MaxUint64, 0, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := newClock(test.resolution, test.offset)
			got, ok := c.at(test.ticks)
			if ok != test.ok || ok && got != test.want {
				t.Errorf("%d ticks are %d ns (%t), want %d (%t)", test.ticks, got, ok, test.want, test.ok)
			}
		})
	}
}

// TestClockAgainstBig compares with arithmetic of any length.
func TestClockAgainstBig(t *testing.T) {
	for resolution := range 256 {
		base, n := int64(10), resolution&0x7F
		if resolution&0x80 != 0 {
			base = 2
		}
		unit := new(big.Int).Exp(big.NewInt(base), big.NewInt(int64(n)), nil)
		c := newClock(uint8(resolution), 0)
		for _, ticks := range []uint64{0, 1, 999, 1 << 31, 1_700_000_000_123_456, 1<<53 + 1, 1 << 63, math.MaxUint64 - 1} {
			want := new(big.Int).Mul(new(big.Int).SetUint64(ticks), big.NewInt(1_000_000_000))
			want.Div(want, unit)
			got, ok := c.at(ticks)
			if ok != want.IsInt64() || ok && got != want.Int64() {
				t.Errorf("resolution 0x%02X, %d ticks: %d (%t), want %s", resolution, ticks, got, ok, want)
			}
		}
	}
}
