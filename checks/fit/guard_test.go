package fit

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestGuard(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, tt := range []struct {
		name            string
		value, u, limit float64
		want            Decision
	}{
		{"well within", 10, 5, 60, Within},
		{"within, negative", -10, 5, 60, Within},
		{"touches from inside", 55, 5, 60, Within}, // ≤
		{"just over", 55.000001, 5, 60, Undecided},
		{"on the limit", 60, 5, 60, Undecided},
		{"touches from outside", 65, 5, 60, Undecided}, // not >
		{"beyond", 65.000001, 5, 60, Beyond},
		{"beyond, negative", -66, 5, 60, Beyond},
		{"uncertainty wider than the limit", 0, 61, 60, Undecided},
		{"no uncertainty, on the limit", 60, 0, 60, Within},
		{"no uncertainty, beyond", 60.1, 0, 60, Beyond},
		{"limit 0", 0, 0, 0, Within},
		{"nothing known", 0, inf, 60, Undecided},
		{"infinite value", inf, 5, 60, Beyond},
		{"infinite value and uncertainty", inf, inf, 60, Undecided},
		{"NaN value", nan, 5, 60, Undecided},
		{"NaN uncertainty", 10, nan, 60, Undecided},
		{"NaN limit", 10, 5, nan, Undecided},
		{"negative uncertainty", 10, -5, 60, Undecided},
		{"negative limit", 10, 5, -60, Undecided},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := Guard(tt.value, tt.u, tt.limit); got != tt.want {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

// JCGM 106:2012, 8.3.2 (the clause from memory): with a guard band w = U = 2u a value just
// accepted is beyond the limit with a probability of at most 2.3 %, the normal distribution beyond two deviations (SciPy 1.10.1: 0.022 75).
func TestGuardRisk(t *testing.T) {
	const u, limit = 2.5, 60.0
	worst := 0.0
	for value := 0.0; value < 70; value += 0.01 {
		beyond := distuv.UnitNormal.Survival((limit-value)/u) + distuv.UnitNormal.Survival((limit+value)/u)
		switch Guard(value, 2*u, limit) {
		case Within:
			worst = max(worst, beyond)
		case Beyond:
			worst = max(worst, 1-beyond)
		case Undecided:
			if beyond < 0.02 || beyond > 0.98 {
				t.Fatalf("%g undecided at a probability of %.3f", value, beyond)
			}
		}
	}
	if !near(worst, 0.023, 5e-4) {
		t.Errorf("worst risk %.4f, want 0.023", worst)
	}
}

func TestDecisionString(t *testing.T) {
	if got := fmt.Sprint(Undecided, Within, Beyond, Decision(9)); got != "undecided within beyond undecided" {
		t.Errorf("got %q", got)
	}
}

func ExampleGuard() {
	fmt.Println(Guard(-40, 6, 60), Guard(57, 6, 60), Guard(-70, 6, 60))
	// Output: within undecided beyond
}
