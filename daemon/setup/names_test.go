package setup

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
)

func TestNearest(t *testing.T) {
	rows := []struct {
		name, word string
		words      []string
		want       string
	}{
		{"exchanged letters", "laod_n", []string{"name", "load_n"}, "load_n"},
		{"case", "Corners", []string{"sources", "corners"}, "corners"},
		{"beginning", "Voltage", []string{"Temp", "Volt"}, "Volt"},
		{"first of equals", "fa", []string{"fx", "fy"}, "fx"},
		{"nothing near", "colour", []string{"vehicle", "sources"}, ""},
		{"short words differ", "ab", []string{"cd"}, ""},
		{"no words", "fx", nil, ""},
		{"not a typing mistake", string(make([]byte, 100)), []string{string(make([]byte, 100))}, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got, ok := nearest(row.word, row.words)
			if got != row.want || ok != (row.want != "") {
				t.Errorf("got %q, %t, want %q", got, ok, row.want)
			}
		})
	}
}

// TestDistance has the usual examples of edit distance: kitten/sitting is
// from Wagner and Fischer's problem as commonly told, the second row shows what
// exchanging neighbours adds.
func TestDistance(t *testing.T) {
	rows := []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3},
		{"ab", "ba", 1},
		{"", "abc", 3},
		{"abc", "", 3},
		{"same", "same", 0},
		{"ca", "abc", 3}, // optimal string alignment: no edit inside an exchange
	}
	for _, row := range rows {
		t.Run(row.a+" "+row.b, func(t *testing.T) {
			if got := distance([]rune(row.a), []rune(row.b)); got != row.want {
				t.Errorf("got %d, want %d", got, row.want)
			}
		})
	}
}

func TestMarks(t *testing.T) {
	const left, right = checks.Left, checks.Right
	rows := []struct {
		name, spelled string
		axle          int
		side          checks.Side
	}{
		{"HubFL_P", "FL", 1, left},
		{"FR_Forces", "FR", 1, right},
		{"wft_rl", "rl", 2, left},
		{"Force_RR_x", "RR", 2, right},
		{"VL_Kraft", "VL", 1, left},
		{"KraftHR", "HR", 2, right},
		{"LF_Forces", "LF", 1, left},
		{"LR_Forces", "LR", 2, left},
		{"RF_Forces", "RF", 1, right},
		{"Fx_1L", "1L", 1, left},
		{"Fx_3R", "3R", 3, right},
		{"R2_Force", "R2", 2, right},
		{"front_left_force", "front_left", 1, left},
		{"RearRightAngle", "RearRight", 2, right},
		{"left_front", "left_front", 1, left},
		{"Kraft_vorne_links", "vorne_links", 1, left},
		{"Wheel1_Rev", "", 0, left},
		{"Flow", "", 0, left},
		{"Wheel", "", 0, left},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			found := marks(row.name)
			if row.spelled == "" {
				if len(found) > 0 {
					t.Errorf("got %v, want none", found)
				}
				return
			}
			if len(found) != 1 {
				t.Fatalf("got %v, want one", found)
			}
			m := found[0]
			if got := row.name[m.start:m.end]; got != row.spelled || m.axle != row.axle || m.side != row.side {
				t.Errorf("got %q axle %d side %d, want %q axle %d side %d", got, m.axle, m.side, row.spelled, row.axle, row.side)
			}
		})
	}
}

func TestRecognise(t *testing.T) {
	rows := []struct {
		signal, dimension string
		want              checks.Quantity
	}{
		{"Fx", "force", checks.Fx},
		{"F_y", "force", checks.Fy},
		{"ForceZ", "force", checks.Fz},
		{"WFx", "force", checks.Fx},
		{"Long", "force", checks.Fx},
		{"Lat", "force", checks.Fy},
		{"Mz", "moment", checks.Mz},
		{"Tilt", "moment", checks.Mx},
		{"Theta", "angle", checks.Angle},
		{"RotPos", "angle", checks.Angle},
		{"CamberAngle", "angle", checks.Camber},
		{"Speed", "rotation", checks.Spin},
		{"Temp1", "temperature", checks.Temperature},
		{"UBat", "voltage", checks.Supply},
		{"SerialNo", "number", checks.Serial},
		{"MsgCnt", "number", checks.Counter},
		{"ErrorState", "number", checks.Status},
		{"Hout", "length", checks.HeightOuter},
		{"Laser2", "length", checks.HeightInner},
		{"Vy", "speed", checks.SpeedY},
		{"Mx", "", checks.Mx},
		{"Stroke", "length", checks.Quantities},
		{"Door", "number", checks.Quantities},
		{"Pull", "force", checks.Quantities},
	}
	for _, row := range rows {
		t.Run(row.signal, func(t *testing.T) {
			g, ok := recognise(row.signal, row.dimension)
			if !ok {
				g.quantity = checks.Quantities
			}
			if g.quantity != row.want {
				t.Errorf("got %s, want %s", g.quantity, row.want)
			}
		})
	}
}

func TestTyre(t *testing.T) {
	rows := map[string]bool{
		"225/75 R16":       true, // UN Regulation No. 30 writes it so
		"205/55R16":        true,
		"205/55 R16 91V":   true,
		"LT245/75 R17":     true,
		"P215/65 R15 95H":  true,
		"225/75 R16C":      true,
		"315/80 R22.5":     true,
		"205/55 ZR16":      true,
		"225-75-16":        false,
		"R16":              false,
		"225/75":           false,
		"225/75 R16 91V\n": false,
	}
	for designation, want := range rows {
		t.Run(designation, func(t *testing.T) {
			if got := tyre.MatchString(designation); got != want {
				t.Errorf("got %t, want %t", got, want)
			}
		})
	}
}

// TestInMemory looks at what only small setups show, without a file system.
func TestInMemory(t *testing.T) {
	const dbcText = `BO_ 2566849536 FL: 8 X
 SG_ Fx : 0|16@1- (1,0) [0|0] "N" X
 SG_ Fz : 16|16@1- (1,0) [0|0] "N" X
 SG_ Theta : 32|16@1+ (0.01,0) [0|0] "deg" X
 SG_ Health : 48|8@1+ (1,0) [0|0] "" X
`
	const text = `vehicle: Test carrier
sources:
  - {name: a, can: can0, dbc: [sub/x.dbc, /abs/y.dbc], match_pgn: true}
  - {name: b, can: can1, dbc: [sub/x.dbc], match: vcan7}
corners:
  - {name: FL, axle: 1, side: left, load_n: 6200, wheel_mass_kg: 27, angle_counts: 2048,
     channels: {fx: "b:FL.Fx", fz: "b:FL.Fz", angle: "b:FL.Theta", status: "a:FL.Health"}}
`
	var asked []string
	s, err := Parse("some/folder/setup.yaml", []byte(text), func(path string) ([]byte, error) {
		asked = append(asked, path)
		if path == "/abs/y.dbc" {
			return []byte("BO_ 5 Other: 8 X\n"), nil
		}
		return []byte(dbcText), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"some/folder/sub/x.dbc", "/abs/y.dbc"}, asked); diff != "" {
		t.Errorf("files read (-want +got):\n%s", diff)
	}
	if len(s.DBC) != 2 || s.DBC[0].Path != "sub/x.dbc" || len(s.DBC[0].SHA256) != 64 {
		t.Errorf("got DBC files %v, want the two as the setup names them", s.DBC)
	}
	type bound struct {
		Source uint16
		PGN    bool
	}
	var got []bound
	for _, b := range s.Bindings {
		got = append(got, bound{b.Source, b.PGN})
	}
	if diff := cmp.Diff([]bound{{1, false}, {1, false}, {1, false}, {0, true}}, got); diff != "" {
		t.Errorf("bindings (-want +got):\n%s", diff)
	}
	if s.Sources[0].Match != "can0" || s.Sources[1].Match != "vcan7" {
		t.Errorf("got matches %q, %q, want can0, vcan7", s.Sources[0].Match, s.Sources[1].Match)
	}
	if diff := cmp.Diff([]float64{0}, s.Checks.Channels[3].Good); diff != "" {
		t.Errorf("good values where none are given (-want +got):\n%s", diff)
	}
}
