package checks

import "math"

// The frequencies at which a signal is looked at: both mains frequencies, and beside each, at 3 and
// 5 Hz, what it must stand out from. All lie on a comb from toneFirstHz on.
const (
	toneCount   = 9
	toneFirstHz = 45.0
	tone50      = 2 // index of 50 Hz
	tone60      = 6
)

// toneHz returns the frequency of tone k.
func toneHz(k int) float64 {
	return toneFirstHz + [toneCount]float64{0, 2, 5, 8, 10, 12, 15, 18, 20}[k]
}

// neighbours returns the tones that a mains line is compared with.
func neighbours(line int) [4]int { return [4]int{line - 2, line - 1, line + 1, line + 2} }

// tones sums w·x·exp(−i2πft) of samples with their real time stamps.
type tones struct{ re, im [toneCount]float64 }

func (t *tones) add(x float64, re, im *[toneCount]float64) {
	for k := range toneCount {
		t.re[k] += float64(x * re[k])
		t.im[k] += float64(x * im[k])
	}
}

// phasors sets re and im to exp(−i2πft) of all tones at t, s.
func phasors(t float64, re, im *[toneCount]float64) {
	s1, c1 := math.Sincos(-2 * math.Pi * t) // 1 Hz
	c2, s2 := turned(c1, s1, c1, s1)
	c3, s3 := turned(c2, s2, c1, s1)
	im[0], re[0] = math.Sincos(-2 * math.Pi * toneFirstHz * t)
	// 45 47 50 53 55 57 60 63 65
	re[1], im[1] = turned(re[0], im[0], c2, s2)
	re[2], im[2] = turned(re[1], im[1], c3, s3)
	re[3], im[3] = turned(re[2], im[2], c3, s3)
	re[4], im[4] = turned(re[3], im[3], c2, s2)
	re[5], im[5] = turned(re[4], im[4], c2, s2)
	re[6], im[6] = turned(re[5], im[5], c3, s3)
	re[7], im[7] = turned(re[6], im[6], c3, s3)
	re[8], im[8] = turned(re[7], im[7], c2, s2)
}

// turned is the product of two complex numbers.
func turned(a, b, c, s float64) (re, im float64) {
	return float64(a*c) - float64(b*s), float64(a*s) + float64(b*c)
}

// listen works out the squared amplitudes of all tones in the second that was gathered, under a
// Hann window, after the straight line through it was taken off.
func (b *block) listen(slot int64) {
	n := b.n
	t0 := b.at[0]
	span := float64(b.at[n-1]-t0) * 1e-9 * float64(n) / float64(n-1)
	var stt, tMean float64
	for _, at := range b.at[:n] {
		tMean += float64(at-t0) * 1e-9 / float64(n)
	}
	for _, at := range b.at[:n] {
		stt += square(float64(at-t0)*1e-9 - tMean)
	}
	var mean, slope [components]float64
	for k := range b.components {
		b.tones[k] = tones{}
		x := b.v[k][:n]
		var sum, sxt float64
		for i, v := range x {
			sum += v - x[0]
			sxt += float64((v - x[0]) * (float64(b.at[i]-t0)*1e-9 - tMean))
		}
		mean[k], slope[k] = x[0]+sum/float64(n), sxt/stt
	}
	var re, im [toneCount]float64
	weights := 0.0
	for i, at := range b.at[:n] {
		t := float64(at-t0) * 1e-9
		w := 0.5 - float64(0.5*math.Cos(2*math.Pi*(t/span+0.5/float64(n))))
		weights += w
		phasors(t, &re, &im)
		for k := range b.components {
			x := b.v[k][i] - mean[k] - float64(slope[k]*(t-tMean))
			b.tones[k].add(float64(w*x), &re, &im)
		}
	}
	for k := range b.components {
		s := &b.kept[k][slot]
		for f := range toneCount {
			s.power[f] = 4 * (square(b.tones[k].re[f]) + square(b.tones[k].im[f])) / square(weights)
			if s.power[f]-s.power[f] != 0 {
				s.samples = 0
			}
		}
	}
}

// alias returns at which frequency f shows in a signal that is sampled at rate, both Hz, and whether
// it can be told there: not where it falls on what stands still, or on half of the rate,
// where its size hangs on its phase.
func alias(f, rate float64) (at float64, seen bool) {
	if !(rate > 0) {
		return 0, false
	}
	at = math.Abs(f - float64(rate*math.Round(f/rate)))
	return at, rate >= 20 && at >= 6 && rate/2-at >= 3
}
