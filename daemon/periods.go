package daemon

import (
	"math/bits"
	"time"
)

const (
	finePeriods = 5                // bits: 32 bins an octave, 3 % wide
	octaves     = 64 - finePeriods // of 63 bits of ns, the first 2^finePeriods values apart
)

// periods finds the median of any number of periods in bounded memory: bins that
// are 3 % wide, each with count and sum, so that a period that is always the same
// comes back exactly.
type periods struct {
	count uint64
	bins  [octaves]*[1 << finePeriods]periodBin // an octave is made when it is met
}

type periodBin struct {
	count uint64
	sum   float64 // ns
}

func (p *periods) add(d time.Duration) {
	octave, bin := place(uint64(d))
	if p.bins[octave] == nil {
		p.bins[octave] = new([1 << finePeriods]periodBin)
	}
	b := &p.bins[octave][bin]
	b.count++
	b.sum += float64(d)
	p.count++
}

// place returns the bin of v: its highest bit says the octave, the bits after it the bin.
func place(v uint64) (octave, bin int) {
	if v < 1<<finePeriods {
		return 0, int(v)
	}
	octave = bits.Len64(v) - finePeriods
	return octave, int(v>>(octave-1)) & (1<<finePeriods - 1)
}

// median returns the mean of the bin in which the median lies, 0 without periods.
func (p *periods) median() time.Duration {
	var seen uint64
	for _, octave := range p.bins {
		if octave == nil {
			continue
		}
		for i := range octave {
			if seen += octave[i].count; 2*seen >= p.count && octave[i].count > 0 {
				return time.Duration(octave[i].sum / float64(octave[i].count))
			}
		}
	}
	return 0
}
