package fit

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// thermometer is JCGM 100:2008, Table H.6: readings and observed corrections, °C.
func thermometer(t0 float64) (t, b []float64) {
	t = []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b = []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	for i := range t {
		t[i] -= t0
	}
	return t, b
}

// JCGM 100:2008, H.3.3 to H.3.5. Tolerances are half of the last digit printed.
func TestLineThermometer(t *testing.T) {
	x, y := thermometer(20)
	f, err := Line(x, y)
	if err != nil {
		t.Fatal(err)
	}
	at30, u30 := f.At(30 - 20)
	centred, _ := thermometer(24.0085) // H.3.5: t0 at the mean of the readings
	g, err := Line(centred, y)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name           string
		got, want, tol float64
	}{
		{"y1", f.Intercept, -0.1712, 5e-5},
		{"u(y1)", f.UIntercept, 0.0029, 5e-5},
		{"y2", f.Slope, 0.00218, 5e-6},
		{"u(y2)", f.USlope, 0.00067, 5e-6},
		{"r", f.Correlation, -0.930, 5e-4},
		{"s", f.ResidualSD, 0.0035, 5e-5},
		{"b(30 °C)", at30, -0.1494, 5e-5},
		{"u(b(30 °C))", u30, 0.0041, 5e-5},
		{"y1 about the mean", g.Intercept, -0.1625, 5e-5}, // −0.171 203 8 + 0.002 182 70·4.008 45, of the digits that the documentation of GTC prints (docs/API/GUM_H3.rst)
		{"u(y1) about the mean", g.UIntercept, 0.0011, 5e-5},
		{"r about the mean", g.Correlation, 0, 5e-4},
		{"degrees of freedom", f.DOF(), 9, 0},
	} {
		if !near(tt.got, tt.want, tt.tol) {
			t.Errorf("%s = %g, want %g", tt.name, tt.got, tt.want)
		}
	}
	// The general propagation with the correlation gives the same as At.
	d := 10.0
	u := math.Sqrt(f.UIntercept*f.UIntercept + d*d*f.USlope*f.USlope + 2*d*f.Correlation*f.UIntercept*f.USlope)
	if !near(u30, u, 1e-14) {
		t.Errorf("u(b(30 °C)) = %g, by the covariance %g", u30, u)
	}
}

func TestLineErrors(t *testing.T) {
	for _, tt := range []struct {
		name string
		x, y []float64
		want string
	}{
		{"lengths", []float64{1, 2, 3}, []float64{1, 2}, "3 values of x, 2 of y"},
		{"two points", []float64{1, 2}, []float64{1, 2}, "at least 3"},
		{"one x", []float64{0.1, 0.1, 0.1}, []float64{1, 2, 3}, "no slope"},
		{"one large x", []float64{1e9 + 0.1, 1e9 + 0.1, 1e9 + 0.1}, []float64{1, 2, 3}, "no slope"},
		{"NaN", []float64{1, 2, 3}, []float64{1, math.NaN(), 3}, "point 1"},
		{"infinite", []float64{1, 2, math.Inf(1)}, []float64{1, 2, 3}, "point 2"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			f, err := Line(tt.x, tt.y)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %+v, %v, want an error with %q", f, err, tt.want)
			}
		})
	}
}

func TestLeastSquaresErrors(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5}
	twice := []float64{2, 4, 6, 8, 10}
	for _, tt := range []struct {
		name    string
		columns [][]float64
		y       []float64
		want    string
	}{
		{"no columns", nil, x, "0 coefficients"},
		{"too few observations", [][]float64{{1, 2}, {3, 5}}, []float64{1, 2}, "at least one more"},
		{"short column", [][]float64{{1, 2}}, x, "column 0 has 2 values"},
		{"dependent", [][]float64{ones(5), x, twice}, x, "column 2 depends"},
		{"constant and constant", [][]float64{ones(5), {7, 7, 7, 7, 7}}, x, "column 1 depends"},
		{"zero", [][]float64{ones(5), make([]float64, 5)}, x, "column 1 is all zero"},
		{"NaN column", [][]float64{{1, math.NaN(), 3, 4, 5}}, x, "column 0, value 1"},
		{"NaN observation", [][]float64{x}, []float64{1, 2, math.Inf(-1), 4, 5}, "observation 2"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := LeastSquares(tt.columns, tt.y)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %+v, %v, want an error with %q", got, err, tt.want)
			}
		})
	}
}

func TestLeastSquaresKeepsItsInput(t *testing.T) {
	x, y := []float64{1, 2, 3, 5}, []float64{3, 1, 4, 1}
	if _, err := LeastSquares([][]float64{ones(4), x}, y); err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(x, y) != "[1 2 3 5] [3 1 4 1]" {
		t.Errorf("input changed: %v %v", x, y)
	}
}

func ExampleLine() {
	speed := []float64{2, 4, 6, 8} // rad/s
	angle := []float64{0.0161, 0.0139, 0.0121, 0.0099}
	f, err := Line(speed, angle)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.4f rad, %.5f ± %.5f s\n", f.Intercept, f.Slope, T95(f.DOF())*f.USlope)
	// Output: 0.0181 rad, -0.00102 ± 0.00012 s
}
