package simulated

import (
	"math"
	"slices"
	"strings"
)

const degree = math.Pi / 180

// befall applies a fault of the wheel, its transducer or its electronics.
func (w *wheel) befall(kind string, value float64, c *Corner) {
	names := components()
	if name, ok := strings.CutPrefix(kind, "zero-"); ok {
		w.sensor.zero[slices.Index(names[:], name)] = value
		return
	}
	if name, ok := strings.CutPrefix(kind, "frozen-"); ok {
		w.sensor.frozen[slices.Index(names[:], name)] = value
		return
	}
	s, e, h := &w.sensor, &w.angle, &w.state
	switch kind {
	case "identity":
		h.serial = uint32(value)
	case "zero":
		s.zero[fz] = value
	case "weight":
		s.weight = value
	case "axes": // half of the difference on each axis
		s.axes = complex(value/2, imag(s.axes))
	case "axes-angle":
		s.axes = complex(real(s.axes), value*degree/2)
	case "drag":
		w.dragNm = value
	case "rub":
		w.rubNm = value
	case "angle-offset":
		e.offsetRad = value * degree
	case "bolts":
		e.offsetRad += value * 2 * math.Pi / float64(c.Bolts)
	case "angle-sense":
		e.reversed = true
	case "mirror":
		s.mirror = true
	case "angle-steps":
		e.counts = math.Round(value)
	case "angle-jumps":
		e.jumpRad = value * degree
	case "angle-slip":
		e.slip = value / 360
	case "angle-stuck":
		e.stuckFrom = value
	case "angle-spin":
		e.spinScale = value
	case "skew":
		e.lateS = value
	case "coupling-noise":
		s.ringNoiseN = value
	case "frozen":
		s.frozen[fz] = value
	case "clipped":
		s.clipN = value
	case "range":
		s.stuckAt = value
	case "noise":
		s.noiseN, s.noiseNm = value, value/5
	case "spikes":
		s.spikesPerS = value / 60
	case "hum":
		s.humN = value
	case "status":
		h.status = math.Round(value)
	case "supply":
		h.supplyV = value
	case "supply-dip":
		h.dipV = value
	case "temperature":
		h.temperatureC, h.warmingCPerS = value, 0
	case "load":
		w.loadN = c.LoadN * value
	case "radius":
		radius, _ := tyreRadiusM(c.Tyre) // tried before
		w.radiusM = radius * value
	case "drift":
		s.drift = value
	case "drift-fy":
		s.driftY = value
	case "drift-my":
		s.driftM = value
	case "drift-noise":
		s.laterN = value
	case "drift-temperature":
		h.warmsK = value
	}
}

// befall applies a fault of an optical sensor.
func (o *lens) befall(kind string, value float64) {
	switch kind {
	case "camber":
		o.camberError = value * degree
	case "clearance":
		o.clearanceM += value
	case "drift-height":
		o.slipsM = value
	case "dropout":
		o.dropout = value
	case "rest-speed":
		o.restMps = value
	case "slip":
		o.mountRad = value * degree
	}
}
