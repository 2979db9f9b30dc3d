package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestBatches(t *testing.T) {
	var b Batches
	if p := b.Part(); !math.IsNaN(p.U) || p.DOF != 0 || !math.IsNaN(b.Mean()) {
		t.Errorf("empty: %+v, mean %g", p, b.Mean())
	}
	b.Add(4)
	if p := b.Part(); !math.IsNaN(p.U) || p.DOF != 0 || b.Mean() != 4 {
		t.Errorf("one: %+v, mean %g", p, b.Mean())
	}
	for _, x := range []float64{6, 8, 10} {
		b.Add(x)
	}
	if got, want := b.SD(), math.Sqrt(20.0/3); !near(got, want, 1e-15) {
		t.Errorf("four: sd %g, want %g", got, want)
	}
	if p := b.Part(); b.N() != 4 || b.Mean() != 7 || !near(p.U, math.Sqrt(20.0/3)/2, 1e-15) || p.DOF != 3 {
		t.Errorf("four: %d, mean %g, %+v", b.N(), b.Mean(), p)
	}
	if r, p := b.Lag1(), b.CorrelatedPart(); !math.IsNaN(r) || !math.IsNaN(p.U) {
		t.Errorf("too few for a correlation: r %g, %+v", r, p)
	}
}

func TestBatchesLag1(t *testing.T) {
	fill := func(n int, f func(i int) float64, breakAt int) *Batches {
		var b Batches
		for i := range n {
			if i == breakAt {
				b.Break()
			}
			b.Add(f(i))
		}
		return &b
	}
	step := func(i int) float64 { return float64(i / 20) }
	for _, tt := range []struct {
		name      string
		b         *Batches
		want, tol float64
	}{
		{"constant", fill(20, func(int) float64 { return 3 }, -1), 0, 0},
		{"alternating", fill(20, func(i int) float64 { return float64(i % 2) }, -1), 0, 0},
		{"ramp", fill(20, func(i int) float64 { return float64(i) }, -1), 0.9, 0},
		// 39 pairs, one of them across the step: by hand r = 0.95 for pairs
		// about their own means, then the correction; both above the bound.
		{"step", fill(40, step, -1), 0.9, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.b.Lag1(); !near(got, tt.want, tt.tol) {
				t.Errorf("got %g, want %g", got, tt.want)
			}
		})
	}
	whole, broken := fill(40, step, -1), fill(40, step, 20)
	if whole.pairs.N() != 39 || broken.pairs.N() != 38 || broken.N() != 40 {
		t.Errorf("%d and %d pairs, want 39 and 38 over a break", whole.pairs.N(), broken.pairs.N())
	}
	p := fill(20, func(int) float64 { return 3 }, -1).CorrelatedPart()
	if p.U != 0 || p.DOF != 19 {
		t.Errorf("constant: %+v, want 0 with 19", p)
	}
}

// The variance of the mean and the expected sample variance of AR(1) values,
// here summed over all pairs, give what CorrelatedPart has in closed form.
func TestCorrelatedPartFormula(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	var b Batches
	x := 0.0
	for range 25 {
		x = 0.6*x + rng.NormFloat64()
		b.Add(x)
	}
	r, n := b.Lag1(), 25
	if r < 0.2 || r > 0.85 {
		t.Fatalf("r = %g: the case proves nothing", r)
	}
	var mean float64 // variance of the mean, σ = 1
	for i := range n {
		for j := range n {
			mean += math.Pow(r, math.Abs(float64(i-j))) / float64(n*n)
		}
	}
	sample := (1 - mean) * float64(n) / float64(n-1) // expected sample variance, σ = 1
	p := b.CorrelatedPart()
	if want := b.SD() * math.Sqrt(mean/sample); !near(p.U, want, 1e-12) {
		t.Errorf("u = %.15g, want %.15g", p.U, want)
	}
	if want := 1/mean - 1; !near(p.DOF, want, 1e-12) {
		t.Errorf("degrees of freedom %g, want %g", p.DOF, want)
	}
}

// By simulation with AR(1) noise: how often the 95 % interval holds the mean,
// with and without the correction.
func TestCorrelatedPartCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	const trials = 6000 // standard deviation of the share about 0.35 %
	for _, tt := range []struct {
		n          int
		rho        float64
		low, high  float64 // of CorrelatedPart
		plainBelow float64 // of Part
		widerBelow float64 // median width over that of Part
	}{
		{15, 0, 0.95, 0.98, 0.96, 1.7},
		{15, 0.6, 0.89, 0.95, 0.70, 7},
		{30, 0, 0.95, 0.98, 0.96, 1.25},
		{30, 0.3, 0.93, 0.96, 0.87, 2.2},
		{30, 0.7, 0.92, 0.96, 0.60, 7},
		{100, 0, 0.945, 0.97, 0.96, 1.15},
		{100, 0.5, 0.93, 0.96, 0.76, 2.3},
		{100, 0.7, 0.93, 0.96, 0.61, 3.2},
	} {
		var held, plain int
		var wider []float64
		for range trials {
			var b Batches
			x := rng.NormFloat64() / math.Sqrt(1-tt.rho*tt.rho)
			for range tt.n {
				b.Add(x)
				x = tt.rho*x + rng.NormFloat64()
			}
			u, v := Expanded(b.CorrelatedPart()), Expanded(b.Part())
			if math.Abs(b.Mean()) <= u {
				held++
			}
			if math.Abs(b.Mean()) <= v {
				plain++
			}
			wider = append(wider, u/v)
		}
		got, without := float64(held)/trials, float64(plain)/trials
		t.Logf("n %3d, rho %.1f: held in %.1f %%, uncorrected %.1f %%, median width ×%.2f", tt.n, tt.rho, 100*got, 100*without, Median(wider))
		if got < tt.low || got > tt.high {
			t.Errorf("n %d, rho %g: held in %.1f %%, want %.1f to %.1f", tt.n, tt.rho, 100*got, 100*tt.low, 100*tt.high)
		}
		if without > tt.plainBelow {
			t.Errorf("n %d, rho %g: uncorrected held in %.1f %%: the case proves nothing", tt.n, tt.rho, 100*without)
		}
		if m := Median(wider); m > tt.widerBelow {
			t.Errorf("n %d, rho %g: %.2f times as wide, want at most %.2f", tt.n, tt.rho, m, tt.widerBelow)
		}
	}
}

func TestPower(t *testing.T) {
	for _, tt := range []struct {
		x    float64
		n    int64
		want float64
	}{{0.5, 10, 1.0 / 1024}, {0, 0, 1}, {0, 5, 0}, {1, 1 << 40, 1}, {0.9, 1, 0.9}, {0.9, 1 << 40, 0}} {
		if got := power(tt.x, tt.n); got != tt.want {
			t.Errorf("%g to the %d = %g, want %g", tt.x, tt.n, got, tt.want)
		}
	}
}
