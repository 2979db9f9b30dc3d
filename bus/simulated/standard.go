package simulated

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// Standard returns an invented vehicle with 1, 2, 4, 6 or 8 instrumented wheels
// and optical sensors, healthy but not perfect. Any other number gives the next
// smaller vehicle, less than 1 the smallest.
func Standard(corners int) Config {
	c := Config{Name: "Minibus 7", Seed: 1, JitterS: 20e-6}
	add := func(name string, axle int, right, driven bool, loadN float64) {
		c.Corners = append(c.Corners, Corner{
			Name: name, Axle: axle, Right: right, Driven: driven, LoadN: loadN, WheelMassKg: 34, OverhangM: 0.012,
			Tyre: "225/75 R16", Bolts: 5, AngleCounts: 2048, Serial: 40117 + uint32(len(c.Corners)),
		})
	}
	switch {
	case corners >= 8:
		c.Name, c.MassKg = "Four-axle carrier 3", 8060
		for i, loads := range [][2]float64{{10150, 10080}, {9900, 9930}, {9800, 9760}, {9740, 9680}} {
			axle := string(rune('1' + i))
			add("A"+axle+"L", i+1, false, i > 1, loads[0])
			add("A"+axle+"R", i+1, true, i > 1, loads[1])
		}
	case corners >= 6:
		c.Name, c.MassKg = "Three-axle van 2", 5640
		add("FL", 1, false, false, 9400)
		add("FR", 1, true, false, 9350)
		add("ML", 2, false, true, 9200)
		add("MR", 2, true, true, 9240)
		add("RL", 3, false, false, 9050)
		add("RR", 3, true, false, 9070)
	case corners >= 4:
		c.MassKg = 3150
		add("FL", 1, false, false, 7900)
		add("FR", 1, true, false, 7850)
		add("RL", 2, false, true, 7600)
		add("RR", 2, true, true, 7540)
	case corners >= 2:
		add("FL", 1, false, false, 7900)
		add("FR", 1, true, false, 7850)
	default:
		add("FL", 1, false, false, 7900)
	}
	for _, k := range c.Corners[:min(2, len(c.Corners))] {
		c.Optics = append(c.Optics, Optic{
			Name: "camber " + k.Name, Kind: CamberBar, Corner: k.Name,
			BaselineM: defaultBaselineM, ClearanceM: defaultClearM, CamberRad: -0.8 * math.Pi / 180,
		})
	}
	c.Optics = append(c.Optics, Optic{Name: "road", Kind: GroundSpeed})
	return c
}

// stream returns a source of randomness that belongs to one name alone, so that
// what is drawn for one message does not depend on what another one drew.
func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	_, _ = h.Write([]byte(name)) // a hash never fails
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// drawFlaws draws what a healthy corner may have: well inside the default
// limits of the checks, yet large against what a single turn resolves.
func drawFlaws(r *rand.Rand) Flaws {
	within := func(bound float64) float64 { return bound * (2*r.Float64() - 1) }
	const deg = math.Pi / 180
	f := Flaws{}
	for i := range f.Zero {
		f.Zero[i] = within(8)
		if i >= 3 {
			f.Zero[i] = within(2)
		}
	}
	f.MisalignRad = within(0.15 * deg)
	f.Weight = within(0.005)
	f.AxesRe, f.AxesIm = within(0.002), within(0.002)
	f.DragNm = 1 + 3*r.Float64()
	f.NoiseN, f.NoiseNm = 8, 1.5
	f.LoadError = within(0.015)
	f.RadiusError = within(0.0025)
	f.SupplyV = 13.7 + within(0.2)
	f.TemperatureC = 23 + within(3)
	f.WarmingCPerS = 0.006 + within(0.002)
	return f
}
