package checks

// Level is what was seen of one channel. It has no opinion.
type Level struct {
	Count   int64   // finite values
	NotANum int64   // NaN or infinite ones
	Low     float64 // in the unit of the channel, SI, as the next two
	High    float64
	Last    float64 // newest finite value
	LastAt  int64   // ns
	AtLow   int64   // values at the lowest raw value
	AtHigh  int64
}

// add takes a finite value.
func (l *Level) add(at int64, s *Sample) {
	v := s.Value
	if l.Count == 0 {
		l.Low, l.High = v, v
	}
	l.Count++
	if v < l.Low {
		l.Low = v
	}
	if v > l.High {
		l.High = v
	}
	l.Last, l.LastAt = v, at
	switch s.State {
	case AtLow:
		l.AtLow++
	case AtHigh:
		l.AtHigh++
	case Inside:
	}
}
