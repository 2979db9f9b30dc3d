package checks

import (
	"testing"

	"plumbline/checks/fit"
)

// TestParts: the parts of each uncertainty that compares two tests make that uncertainty again.
func TestParts(t *testing.T) {
	for _, part := range []fit.Part{{U: 0.3, DOF: 5}, {U: 0, DOF: 2}} {
		var f Finding
		u := f.expanded(part, 0.25, 0.125)
		p := f.Parts
		again := fit.Expanded(fit.Part{U: p.Scatter, DOF: p.DOF}, fit.TypeB(p.Resolution), fit.TypeB(p.Count))
		if u != again || p.DOF != part.DOF {
			t.Errorf("parts %+v give %v, want %v", p, again, u)
		}
	}
	var f Finding
	if f.expanded(fit.Part{DOF: -1}, 0.25, 0); f.Parts != (Parts{}) {
		t.Errorf("one turn scatters by nothing: got %+v, want none", f.Parts)
	}
}
