package checks

import (
	"math"
	"testing"
)

// Outer diameters D = d + 2·S·(aspect/100) by hand, with d of UN Regulations No. 30 and 54 (16: 406, 15: 381, 17: 432,
// 17.5: 445, 22.5: 572 mm). Rolling circumferences as tyre makers' ETRTO tables print them, from memory: 205/55 R16
// 1928 mm, 195/65 R15 1935 mm, 225/45 R17 1935 mm.
func TestTyre(t *testing.T) {
	for _, c := range []struct {
		size    string
		outerMm float64
		rollMm  float64 // 0: not looked up
	}{
		{"205/55 R16", 406 + 2*0.55*205, 1928}, // 631.5 mm
		{"205/55R16 91V", 631.5, 1928},
		{"205/55 ZR16", 631.5, 1928},
		{"195/65 R15", 381 + 2*0.65*195, 1935},   // 634.5 mm
		{"225/45 R17", 432 + 2*0.45*225, 1935},   // 634.5 mm
		{"225/75 R16", 406 + 2*0.75*225, 0},      // 743.5 mm
		{"LT225/75 R16C 121/120R", 743.5, 0},     //
		{"205/75 R17.5", 445 + 2*0.75*205, 0},    // 752.5 mm
		{"315/80 R22.5", 572 + 2*0.80*315, 0},    // 1076 mm
		{"165/100 R14 C", 356 + 2*1.00*165, 0},   // 686 mm
		{"335/30 R19", 483 + 2*0.30*335, 0},      // 684 mm
		{"P215/60 R 15", 381 + 2*0.60*215, 0},    // 639 mm
		{"175/65 R13 80T", 330 + 2*0.65*175, 0},  // 557.5 mm
		{"275/35 R20 102Y", 508 + 2*0.35*275, 0}, // 700.5 mm
		{"245/35 R21", 533 + 2*0.35*245, 0},      // 704.5 mm
	} {
		t.Run(c.size, func(t *testing.T) {
			got, ok := parseTyre(c.size)
			if !ok || math.Abs(got.outerM()*1000-c.outerMm) > 1e-9 {
				t.Fatalf("outer diameter %v mm (%v), want %v", got.outerM()*1000, ok, c.outerMm)
			}
			if roll := 2 * math.Pi * got.radiusM() * 1000; c.rollMm > 0 && math.Abs(roll-c.rollMm) > 3 {
				t.Errorf("rolls %v mm a turn, want %v within 3", roll, c.rollMm)
			}
		})
	}
	for _, bad := range []string{"", "16", "205-55-16", "205/55 D16", "205/55-16", "205/55 R", "R16", "000/55 R16", "205/00 R16", "205/55 R00"} {
		if got, ok := parseTyre(bad); ok {
			t.Errorf("%q is read as %+v", bad, got)
		}
	}
}

// Revolutions per mile that a tyre maker's published sheet of sizes gives for its all-terrain tyres under load; the sheet has light truck
// tyres, whose circumference is that of ETRTO's passenger tyres within one in a hundred.
func TestTyreRevolutions(t *testing.T) {
	const mileM = 1609.344
	for _, c := range []struct {
		size    string
		perMile float64
	}{
		{"LT235/85R16", 655},
		{"LT245/75R16", 682},
		{"LT265/75R16", 656},
		{"LT285/75R16", 628},
		{"LT315/75R16", 601},
		{"LT305/70R16", 633},
		{"LT255/75R17", 648},
	} {
		size, ok := parseTyre(c.size)
		if got, want := 2*math.Pi*size.radiusM(), mileM/c.perMile; !ok || math.Abs(got/want-1) > 0.01 {
			t.Errorf("%s rolls %.3f m a turn, want %.3f within 1 %%", c.size, got, want)
		}
	}
}
