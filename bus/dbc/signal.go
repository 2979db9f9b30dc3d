package dbc

import "math"

// Find returns the first message of that exact name, nil if there is none.
func (f *File) Find(message string) *Message {
	for i := range f.Messages {
		if f.Messages[i].Name == message {
			return &f.Messages[i]
		}
	}
	return nil
}

// Find returns the index of the first signal of that exact name, −1 if there is none.
func (m *Message) Find(signal string) int {
	for i := range m.Signals {
		if m.Signals[i].Name == signal {
			return i
		}
	}
	return -1
}

// Step returns the smallest difference of two values of the signal, in its
// unit: |Scale|, 0 for a float.
func (s *Signal) Step() float64 {
	if s.Float {
		return 0
	}
	return math.Abs(s.Scale)
}

// Ends returns the values, in the signal's unit, at the lowest and the highest
// raw value that its bits can carry; low > high where Scale is negative. What
// the file states as range plays no part. ok is false for a float.
func (s *Signal) Ends() (low, high float64, ok bool) {
	if s.Float {
		return 0, 0, false
	}
	lowest, highest := s.rawEnds()
	if s.Signed {
		return float64(int64(lowest))*s.Scale + s.Offset, float64(int64(highest))*s.Scale + s.Offset, true
	}
	return float64(lowest)*s.Scale + s.Offset, float64(highest)*s.Scale + s.Offset, true
}

// rawEnds returns the lowest and highest raw value of an integer signal, sign
// extended to 64 bits where it is signed.
func (s *Signal) rawEnds() (lowest, highest uint64) {
	if s.Signed {
		highest = 1<<(s.Length-1) - 1
		return ^highest, highest
	}
	return 0, math.MaxUint64 >> (64 - s.Length)
}

// span returns the first and the last byte of the payload that the signal
// touches, and how many bits of the last byte lie below its lowest bit there
// (Motorola) or of the first byte below its lowest (Intel).
func (s *Signal) span() (first, last, below int) {
	first = s.Start / 8
	if !s.BigEndian {
		return first, (s.Start + s.Length - 1) / 8, s.Start % 8
	}
	// Counted from the most significant bit of the first byte onwards, as the bits are sent.
	end := 7 - s.Start%8 + s.Length - 1
	return first, first + end/8, 7 - end%8
}

// bytes returns how long a payload must be to hold the signal.
func (s *Signal) bytes() int {
	_, last, _ := s.span()
	return last + 1
}
