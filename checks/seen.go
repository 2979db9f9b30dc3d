package checks

// Seen is what the electronics of a corner told of themselves.
type Seen struct {
	Serial         uint64 // that they sent
	HasSerial      bool
	TemperatureC   [2]float64 // lowest and highest, °C
	HasTemperature bool
}

// seen returns what each corner told of itself.
func (v *view) seen() []Seen {
	out := make([]Seen, len(v.corners))
	for i := range v.corners {
		s := &out[i]
		s.Serial, s.HasSerial = v.serial(i)
		if _, w, _, ok := v.watched(i, Temperature); ok {
			low, high := known(w.Low), known(w.High)
			s.TemperatureC, s.HasTemperature = [2]float64{low.Value, high.Value}, low.Known && high.Known
		}
	}
	return out
}
