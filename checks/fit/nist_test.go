package fit

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// dataset is a file of testdata/nist: see the README there.
type dataset struct {
	degree   int // of a polynomial; −1: columns
	coef, se []float64
	residual float64
	y        []float64
	x        [][]float64 // columns
}

func readNIST(t *testing.T, name string) dataset {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "nist", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := dataset{degree: -1}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return v
	}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		w := strings.Fields(lines.Text())
		switch w[0] {
		case "#":
		case "model":
			if w[1] == "polynomial" {
				d.degree = int(number(w[2]))
			}
		case "coefficient":
			d.coef = append(d.coef, number(w[1]))
			d.se = append(d.se, number(w[2]))
		case "residual":
			d.residual = number(w[1])
		default:
			d.y = append(d.y, number(w[0]))
			for j, s := range w[1:] {
				if j == len(d.x) {
					d.x = append(d.x, nil)
				}
				d.x[j] = append(d.x[j], number(s))
			}
		}
	}
	return d
}

// digits is the log relative error: how many leading digits agree, 15 at most.
// Of a certified zero it is the log of the absolute value.
func digits(got, want float64) float64 {
	e := math.Abs(got - want)
	if want != 0 {
		e /= math.Abs(want)
	}
	if math.IsNaN(e) {
		return 0
	}
	return min(15, -math.Log10(e))
}

func TestLeastSquaresNIST(t *testing.T) {
	tests := []struct {
		name                string
		coef, se, residual  float64 // least digits; where certified 0: least −log10
		observations, width int
	}{
		{"norris", 13, 13, 13, 36, 2},
		{"pontius", 13, 13, 13, 40, 3},
		{"longley", 11, 12, 14, 16, 7},
		{"wampler1", 13, 13, 13, 21, 6},
		{"wampler2", 12, 13, 13, 21, 6},
		{"wampler3", 9, 12, 14, 21, 6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d := readNIST(t, tt.name)
			if len(d.y) != tt.observations || len(d.coef) != tt.width {
				t.Fatalf("%d observations, %d coefficients, want %d and %d", len(d.y), len(d.coef), tt.observations, tt.width)
			}
			var got Regression
			var err error
			if d.degree >= 0 {
				got, err = polynomial(d.x[0], d.y, d.degree)
			} else {
				got, err = LeastSquares(append([][]float64{ones(len(d.y))}, d.x...), d.y)
			}
			if err != nil {
				t.Fatal(err)
			}
			if want := tt.observations - tt.width; got.DOF != want {
				t.Errorf("DOF = %d, want %d", got.DOF, want)
			}
			least := func(what string, got, want, need float64) {
				t.Helper()
				have := digits(got, want)
				t.Logf("%-10s %.15g, certified %.15g: %.1f digits", what, got, want, have)
				if have < need {
					t.Errorf("%s = %.15g, certified %.15g: %.1f digits, want %.1f", what, got, want, have, need)
				}
			}
			for j := range d.coef {
				least("B"+strconv.Itoa(j), got.Coef[j], d.coef[j], tt.coef)
				least("s(B"+strconv.Itoa(j)+")", got.SE[j], d.se[j], tt.se)
			}
			least("residual", got.ResidualSD, d.residual, tt.residual)
		})
	}
}

func TestLineNIST(t *testing.T) {
	d := readNIST(t, "norris")
	f, err := Line(d.x[0], d.y)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"intercept", f.Intercept, d.coef[0]},
		{"slope", f.Slope, d.coef[1]},
		{"u(intercept)", f.UIntercept, d.se[0]},
		{"u(slope)", f.USlope, d.se[1]},
		{"residual", f.ResidualSD, d.residual},
	} {
		if n := digits(tt.got, tt.want); n < 12 {
			t.Errorf("%s = %.15g, certified %.15g: %.1f digits, want 12", tt.name, tt.got, tt.want, n)
		}
	}
}

func ones(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 1
	}
	return x
}

// polynomial fits y = Σ Coef[k]·x^k, k = 0…degree, as [LeastSquares] does.
func polynomial(x, y []float64, degree int) (Regression, error) {
	columns := make([][]float64, degree+1)
	for k := range columns {
		columns[k] = make([]float64, len(x))
		for i := range x {
			if k == 0 {
				columns[k][i] = 1
			} else {
				columns[k][i] = float64(columns[k-1][i] * x[i])
			}
		}
	}
	return LeastSquares(columns, y)
}
