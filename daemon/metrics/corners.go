package metrics

import (
	"math"

	"plumbline/checks"
)

// unit is a unit that channels come in.
type unit struct {
	word       string
	quantities []checks.Quantity
	noise      bool // what it scatters by is of use
}

func units() []unit {
	return []unit{
		{"newtons", []checks.Quantity{checks.Fx, checks.Fy, checks.Fz}, true},
		{"newton_meters", []checks.Quantity{checks.Mx, checks.My, checks.Mz}, true},
		{"radians_per_second", []checks.Quantity{checks.Spin}, false},
		{"celsius", []checks.Quantity{checks.Temperature}, false},
		{"volts", []checks.Quantity{checks.Supply}, false},
		{"meters", []checks.Quantity{checks.HeightOuter, checks.HeightInner, checks.HeightThird}, false},
		{"radians", []checks.Quantity{checks.Camber, checks.Slip}, false},
		{"meters_per_second", []checks.Quantity{checks.SpeedX, checks.SpeedY}, false},
	}
}

// statistic is one number that a window of a channel has.
type statistic struct {
	word, help string
	noise      bool
	of         func(*checks.Window) float64
}

func statistics() []statistic {
	return []statistic{
		{"mean", "Mean of the values.", false, func(w *checks.Window) float64 { return w.Mean }},
		{"minimum", "Lowest value.", false, func(w *checks.Window) float64 { return w.Low }},
		{"maximum", "Highest value.", false, func(w *checks.Window) float64 { return w.High }},
		{"deviation", "RMS about the mean of the window, with all that moves or turns.", true, func(w *checks.Window) float64 { return w.Deviation }},
		{"noise", "RMS of (a − 2·b + c)/√6 of three values in a row: white noise, without what moves slowly.", true, func(w *checks.Window) float64 {
			return positive(w.Noise)
		}},
	}
}

// channels puts one number of the windows of all channels in a unit.
func channels(u unit, s statistic) func(*sink) {
	return func(k *sink) {
		put := func(subject string, chs *checks.Channels) {
			for _, q := range u.quantities {
				c := chs[q]
				if c == checks.None || int(c) >= len(k.now.Channels) {
					continue
				}
				state := &k.now.Channels[c]
				if state.Second.Samples > 0 {
					k.put(s.of(&state.Second), subject, q.String(), "1s")
				}
				if state.Ten.Samples > 0 {
					k.put(s.of(&state.Ten), subject, q.String(), "10s")
				}
			}
		}
		for i := range k.setup.Corners {
			put(k.setup.Corners[i].Name, &k.setup.Corners[i].Channels)
		}
		for i := range k.setup.Optics {
			put(k.setup.Optics[i].Name, &k.setup.Optics[i].Channels)
		}
	}
}

func hangState(k *sink) {
	for i := range k.now.Corners {
		for state, word := range [...]string{checks.Unknown: "unknown", checks.Lifted: "lifted", checks.Loaded: "loaded"} {
			k.flag(k.now.Corners[i].Hang == checks.Hang(state), k.setup.Corners[i].Name, word)
		}
	}
}

// angled calls put for each corner of which an angle comes.
func angled(k *sink, put func(c *checks.CornerState, name string)) {
	for i := range k.now.Corners {
		set := &k.setup.Corners[i]
		if c := &k.now.Corners[i]; c.Angle && !math.IsNaN(k.newest(set.Channels[checks.Angle])) {
			put(c, set.Name)
		}
	}
}

func turning(k *sink) {
	angled(k, func(c *checks.CornerState, name string) { k.flag(c.Turning, name) })
}

func velocity(k *sink) {
	angled(k, func(c *checks.CornerState, name string) { k.put(c.Omega, name) })
}

func turns(k *sink) {
	for i := range k.now.Corners {
		c, name := &k.now.Corners[i], k.setup.Corners[i].Name
		k.put(c.Forward, name, "forward")
		k.put(c.Back, name, "back")
	}
}

// force puts what tells the last second of each force in wheel axes.
func force(of func(*checks.Window) float64) func(*sink) {
	return func(k *sink) {
		for i := range k.now.Corners {
			for q := range k.now.Corners[i].Force {
				if w := &k.now.Corners[i].Force[q]; w.Samples > 0 {
					k.put(of(w), k.setup.Corners[i].Name, checks.Quantity(q).String())
				}
			}
		}
	}
}

func verticalForce(k *sink) {
	for i := range k.now.Corners {
		if h := &k.now.Corners[i].VerticalForce; h.Count > 0 {
			k.count(h, k.setup.Corners[i].Name)
		}
	}
}

func temperature(k *sink) { newest(k, checks.Temperature) }
func supply(k *sink)      { newest(k, checks.Supply) }

func newest(k *sink, q checks.Quantity) {
	for i := range k.setup.Corners {
		set := &k.setup.Corners[i]
		k.put(k.newest(set.Channels[q]), set.Name)
	}
}
