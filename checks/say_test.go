package checks

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

func TestShow(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit string
		want string
	}{
		{-12.34, "N", "−12.3 N"},
		{-0.04, "N", "0.0 N"},
		{1.005, "N·m", "1.00 N·m"},
		{math.Pi, "rad", "180.00°"},
		{-0.01745329, "rad", "−1.00°"},
		{0.0041, "s", "4.1 ms"},
		{-0.002, "s", "−2.0 ms"},
		{1.5, "s", "1.5 s"},
		{0.2, "m", "200.0 mm"},
		{1.0412, "", "1.041"},
		{0.123, "percent", "12.3 %"},
		{12.4, "V", "12.40 V"},
		{-5, "°C", "−5.00 °C"},
		{1e300, "N", "1e+300 N"},
		{math.MaxFloat64, "percent", "1.79769e+308 %"},
	} {
		if got := show(c.v, c.unit); got != c.want {
			t.Errorf("show(%v, %q) = %q, want %q", c.v, c.unit, got, c.want)
		}
	}
}

// TestSignificant: what is worked out is what is written with six digits and read again, to the last bit.
func TestSignificant(t *testing.T) {
	written := func(v float64) float64 {
		r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
		if err != nil {
			return v
		}
		return r
	}
	hold := func(v float64) {
		if got, want := significant(v), written(v); math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("significant(%v) = %v, want %v", v, got, want)
		}
	}
	for _, v := range []float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), math.MaxFloat64, 5e-324, 1e-320, 0.1, 1, 999999.5, 9999995, 1234565, 123456.5, 1e12, 1e-9} {
		hold(v)
		hold(-v)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 200_000 {
		v := math.Pow(10, 24*r.Float64()-11) * (2*r.Float64() - 1)
		hold(v)
		hold(math.Nextafter(math.Round(v*1e3)/1e3, v)) // what was decimal before
		ten := math.Pow(10, float64(r.IntN(20)-8))
		hold((float64(100000+r.IntN(900000)) + 0.5) * ten) // on and about a tie
		hold(math.Nextafter(ten, 0))
		hold(math.Nextafter(ten, math.Inf(1)))
	}
}

func TestWithin(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		unit string
		want string
	}{
		{119.94, 0.51, "N", "119.9 ± 0.5 N"},
		{-3, 0.2, "N·m", "−3.00 ± 0.20 N·m"},
		{0.0349, 0.0035, "rad", "2.00° ± 0.20°"},
		{1.04, 0.002, "", "1.040 ± 0.002"},
		{0.0042, 0.0002, "s", "4.2 ± 0.2 ms"},
		{1.2, 0.01, "s", "1.2 s ± 10.0 ms"},
	} {
		if got := within(c.v, c.u, c.unit); got != c.want {
			t.Errorf("within(%v, %v, %q) = %q, want %q", c.v, c.u, c.unit, got, c.want)
		}
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{plural(0, "turn", "turns"), "0 turns"},
		{plural(1, "turn", "turns"), "1 turn"},
		{plural(-1, "turn", "turns"), "-1 turns"},
		{list(nil), ""},
		{list([]string{"FL"}), "FL"},
		{list([]string{"FL", "RR"}), "FL and RR"},
		{list([]string{"FL", "FR", "RR"}), "FL, FR and RR"},
		{Pass.String(), "pass"},
		{Fail.String(), "fail"},
		{Absent.String(), "absent"},
		{Verdict(0).String(), "inconclusive"},
		{Verdict(77).String(), "inconclusive"},
		{HeightThird.String(), "height_third"},
		{Quantities.String(), "unknown"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestKnown(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want Number
	}{
		{math.NaN(), Number{}},
		{math.Inf(1), Number{}},
		{math.Inf(-1), Number{}},
		{0, Number{0, true}},
		{math.Copysign(0, -1), Number{0, true}},
		{1.23456789, Number{1.23457, true}},
		{-9876543.21, Number{-9876540, true}},
		{1e-320, Number{significant(1e-320), true}},
	} {
		if got := known(c.v); got != c.want || math.Signbit(got.Value) != (c.want.Value < 0) {
			t.Errorf("known(%v) = %v, want %v", c.v, got, c.want)
		}
	}
}

func TestVerdictText(t *testing.T) {
	for _, v := range []Verdict{Inconclusive, Pass, Fail, Absent} {
		text, err := v.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		got := Verdict(99)
		if err := got.UnmarshalText(text); err != nil || got != v {
			t.Errorf("%s comes back as %s, %v", v, got, err)
		}
	}
	var v Verdict
	if err := v.UnmarshalText([]byte("ok")); err == nil || !contains(err.Error(), "expected pass, fail, inconclusive or absent") {
		t.Errorf("error %v, want the words that are expected", err)
	}
}
