package serialport

import (
	"math"
	"math/rand/v2"
	"testing"
)

// burst simulates an adapter: samples of a device whose clock runs apart by ppm,
// held back until the latency timer of 16 ms runs out, read a little later.
type burst struct {
	period float64 // ns, as the device has it
	timer  float64 // ns; 0: every sample at once
	jitter float64 // ns, mean of the delay of a read
	rng    *rand.Rand
}

// arrival of a sample taken at a time.
func (b *burst) arrival(taken float64) float64 {
	at := taken
	if b.timer > 0 {
		at = math.Ceil(taken/b.timer) * b.timer
	}
	return at + b.rng.ExpFloat64()*b.jitter
}

const epoch = 1_800_000_000 * second

// TestReconstruct: worst error after the first three seconds.
func TestReconstruct(t *testing.T) {
	// Where samples and timer keep step, the sample of a burst that waits least waits
	// nearly the same for long, as much as the step between two: that delay cannot be seen.
	tests := []struct {
		name    string
		nominal int64 // ns
		ppm     float64
		timer   float64 // ms
		modulus uint64
		step    float64 // ms, where samples and timer keep step
	}{
		{"1 kHz", 1_000_000, 20, 15.97, 65536, 0},
		{"1 kHz, 8 bits", 1_000_000, 80, 15.97, 256, 0},
		{"1 kHz, 300 ppm fast", 1_000_000, -300, 15.97, 65536, 0},
		{"1 kHz, 1 % slow", 1_000_000, 10_000, 16, 65536, 0},
		{"1 kHz, no counter", 1_000_000, 100, 15.97, 0, 0},
		{"4 kHz", 250_000, 50, 16, 65536, 0},
		{"500 Hz, no counter", 2_000_000, -50, 15.97, 0, 0},
		{"200 Hz", 5_000_000, 50, 15.97, 256, 0},
		{"100 Hz", 10_000_000, 50, 15.97, 256, 0},
		{"no bursts", 1_000_000, 50, 0, 65536, 0},
		{"timer of 1 ms", 1_000_000, 50, 0.97, 65536, 0},
		{"1 kHz in step", 1_000_000, 0, 16, 65536, 1},
		{"1 kHz nearly in step", 1_000_000, 80, 16, 65536, 1},
		{"500 Hz nearly in step", 2_000_000, -50, 16, 0, 2},
		{"100 Hz nearly in step", 10_000_000, 50, 16, 256, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := burst{float64(tt.nominal) * (1 + tt.ppm*1e-6), tt.timer * 1e6, 50_000, rand.New(rand.NewPCG(1, 1))}
			r := NewReconstruct(tt.nominal, tt.modulus)
			var worst, raw, last float64
			told, n := 0, int(60*second/tt.nominal)
			for k := range n {
				taken := 3e6 + float64(k)*b.period
				arrival := b.arrival(taken)
				number := uint64(k + 77)
				if tt.modulus > 0 {
					number %= tt.modulus
				}
				at, ok := r.At(number, epoch+int64(arrival))
				got := float64(at - epoch)
				if got <= last {
					t.Fatalf("sample %d: time %v is not after %v", k, got, last)
				}
				last = got
				if ok {
					told++
				}
				if taken < 3*second {
					continue
				}
				if !ok {
					t.Fatalf("sample %d: not reconstructed", k)
				}
				worst = max(worst, math.Abs(got-taken))
				raw = max(raw, arrival-taken)
			}
			t.Logf("worst error %.3f ms, of the arrivals %.3f ms; %d of %d reconstructed", worst/1e6, raw/1e6, told, n)
			if limit := max(1, tt.step+0.1); worst >= limit*1e6 {
				t.Errorf("worst error of %.3f ms, want less than %.1f ms", worst/1e6, limit)
			}
			if tt.timer > 10 && raw < 10e6 {
				t.Errorf("arrivals are late by %.3f ms at most: the simulation makes no bursts", raw/1e6)
			}
		})
	}
}

// TestReconstructMishaps: what happens to a device and its line at second 10; a
// second later times are right again, and never is one later than its arrival.
func TestReconstructMishaps(t *testing.T) {
	const period = 1e6
	tests := []struct {
		name    string
		modulus uint64
		mishap  func(k int, taken *float64, number *uint64, arrival *float64) (lost bool)
		clock   bool // the clock goes back
	}{
		{"40 samples lost", 65536, func(k int, _ *float64, _ *uint64, _ *float64) bool { return k >= 10_000 && k < 10_040 }, false},
		{"3 s lost, the counter goes round many times", 256, func(k int, _ *float64, _ *uint64, _ *float64) bool { return k >= 10_000 && k < 13_000 }, false},
		{"the device starts again at 0", 65536, func(k int, _ *float64, n *uint64, _ *float64) bool {
			if k >= 10_000 {
				*n = uint64(k - 10_000)
			}
			return false
		}, false},
		{"the device pauses for 0.7 s and counts on", 65536, func(k int, taken *float64, _ *uint64, a *float64) bool {
			if k >= 10_000 {
				*taken += 0.7e9
				*a += 0.7e9
			}
			return false
		}, false},
		{"the line holds 0.3 s back", 65536, func(k int, _ *float64, _ *uint64, a *float64) bool {
			if k >= 10_000 && k < 10_300 {
				*a = 10.32e9
			}
			return false
		}, false},
		{"the clock goes forward 5 s", 65536, func(k int, taken *float64, _ *uint64, a *float64) bool {
			if k >= 10_000 {
				*taken += 5e9
				*a += 5e9
			}
			return false
		}, false},
		{"the clock goes back 5 s", 65536, func(k int, taken *float64, _ *uint64, a *float64) bool {
			if k >= 10_000 {
				*taken -= 5e9
				*a -= 5e9
			}
			return false
		}, true},
		{"40 samples lost, no counter", 0, func(k int, _ *float64, n *uint64, _ *float64) bool {
			if k >= 10_040 {
				*n = uint64(k - 40)
			}
			return k >= 10_000 && k < 10_040
		}, false},
		{"one sample lost, no counter", 0, func(k int, _ *float64, n *uint64, _ *float64) bool {
			if k > 10_000 {
				*n = uint64(k - 1)
			}
			return k == 10_000
		}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := burst{period, 16e6, 50_000, rand.New(rand.NewPCG(2, 2))}
			r := NewReconstruct(period, tt.modulus)
			worst, last, told, before := 0.0, math.Inf(-1), 0, 0.0
			for k := range 20_000 {
				taken := 3e6 + float64(k)*period
				arrival, number := b.arrival(taken), uint64(k)
				if tt.mishap(k, &taken, &number, &arrival) {
					continue
				}
				if !tt.clock {
					before = max(before, arrival)
					arrival = before // nothing overtakes on a line
				}
				if tt.modulus > 0 {
					number %= tt.modulus
				}
				at, ok := r.At(number, epoch+int64(arrival))
				got := float64(at - epoch)
				if got > arrival+1e6 { // samples of one burst that cannot be told apart follow each other by 1 ns
					t.Fatalf("sample %d: time %.3f ms after its arrival", k, (got-arrival)/1e6)
				}
				if got <= last && !tt.clock {
					t.Fatalf("sample %d: time %v is not after %v", k, got, last)
				}
				last = got
				if k > 1000 && k < 10_000 || k > 14_000 {
					worst = max(worst, math.Abs(got-taken))
					if ok {
						told++
					}
				}
			}
			t.Logf("worst error %.3f ms", worst/1e6)
			if worst >= 1e6 {
				t.Errorf("worst error of %.3f ms, want less than 1 ms", worst/1e6)
			}
			if told < 14_900 {
				t.Errorf("only %d times reconstructed", told)
			}
		})
	}
}

// TestReconstructMonth: memory is fixed and nothing runs away in a month of event time.
func TestReconstructMonth(t *testing.T) {
	b := burst{1e9 * (1 + 30e-6), 16e6, 50_000, rand.New(rand.NewPCG(3, 3))}
	r := NewReconstruct(second, 256)
	for k := range 30 * 86400 {
		taken := 3e6 + float64(k)*b.period
		at, ok := r.At(uint64(k)%256, epoch+int64(b.arrival(taken)))
		// one sample a second meets the timer anywhere: no better than the timer can be promised
		if d := float64(at-epoch) - taken; k > 60 && (!ok || math.Abs(d) > 16e6) {
			t.Fatalf("sample %d: off by %.3f ms, reconstructed %t", k, d/1e6, ok)
		}
	}
}
