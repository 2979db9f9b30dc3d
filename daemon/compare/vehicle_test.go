package compare

import (
	"testing"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// yard tests one vehicle again and again: its flaws stay, what is drawn in a test is another each time.
type yard struct {
	config simulated.Config
	bench  *daemon.Bench
}

func newYard(tb testing.TB, corners int) *yard {
	tb.Helper()
	c := simulated.Standard(corners)
	c.RateHz = 130
	for i := range c.Corners {
		k := float64(i)
		c.Corners[i].Flaws = &simulated.Flaws{
			Zero: [6]float64{3 - k, -2, 5, 0.5, -1, 0.3 * k}, MisalignRad: 0.001 * (k - 1), Weight: 0.003 - 0.001*k, AxesRe: 0.001, AxesIm: -0.0005,
			DragNm: 2 + 0.3*k, NoiseN: 8, NoiseNm: 1.5, SupplyV: 13.7, TemperatureC: 23,
		}
	}
	s := []simulated.Phase{{Kind: simulated.Rest, Seconds: 3.8}, {Kind: simulated.Lift, Seconds: 1.5}, {Kind: simulated.Rest, Seconds: 1.2}}
	for i := range c.Corners {
		s = append(s, simulated.Phase{Kind: simulated.Turn, Corner: c.Corners[i].Name, Turns: 3.3})
	}
	c.Script = append(s, simulated.Phase{Kind: simulated.Lower, Seconds: 1.5}, simulated.Phase{Kind: simulated.Rest, Seconds: 4.2})
	set, err := setup.Parse("minibus.yaml", []byte(c.SetupYAML()), c.ReadFile)
	if err != nil {
		tb.Fatal(err)
	}
	y := &yard{config: c}
	if y.bench, err = daemon.NewBench(set, "plumbline (test)"); err != nil {
		tb.Fatal(err)
	}
	return y
}

// test tests the vehicle once. change, where it is given, changes what is wrong with it.
func (y *yard) test(tb testing.TB, seed uint64, change func(corner int, f *simulated.Flaws)) *daemon.Result {
	tb.Helper()
	c := y.config
	c.Seed = seed
	c.Start = simulated.DefaultStart + int64(seed)*600e9
	c.Corners = append([]simulated.Corner(nil), c.Corners...)
	for i := range c.Corners {
		f := *c.Corners[i].Flaws
		if change != nil {
			change(i, &f)
		}
		c.Corners[i].Flaws = &f
	}
	v, err := simulated.New(c)
	if err != nil {
		tb.Fatal(err)
	}
	j := y.bench.Judge("simulated")
	if err := j.Run(tb.Context(), v); err != nil {
		tb.Fatal(err)
	}
	r := j.Result()
	return &r
}
