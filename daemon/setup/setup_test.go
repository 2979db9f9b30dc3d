package setup

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"plumbline/bus/serialport"
	"plumbline/checks"
)

const testdata = "../../testdata/setup"

// TestFormats loads one setup written in each format.
func TestFormats(t *testing.T) {
	want, err := Load(testdata + "/good/vehicle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(want.Bindings) != 27 || len(want.Warnings) != 0 {
		t.Errorf("got %d bindings, warnings %q, want 27 and none", len(want.Bindings), want.Warnings)
	}
	for _, name := range []string{"vehicle.toml", "vehicle.json"} {
		t.Run(name, func(t *testing.T) {
			got, err := Load(testdata + "/good/" + name)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(Setup{}, "File", "SHA256", "Text")); diff != "" {
				t.Errorf("differs from vehicle.yaml (-yaml +%s):\n%s", name, diff)
			}
		})
	}
}

// TestSetup looks at what a setup says, by hand from good/vehicle.yaml and its DBC files.
func TestSetup(t *testing.T) {
	s, err := Load(testdata + "/good/vehicle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const deg = math.Pi / 180
	channel := func(owner *checks.Channels, q checks.Quantity) int32 { return owner[q] }
	fl, fr := &s.Checks.Corners[0].Channels, &s.Checks.Corners[1].Channels
	bar, road := &s.Checks.Optics[0].Channels, &s.Checks.Optics[1].Channels

	rows := []struct {
		name          string
		channel       int32
		signal        string
		source        uint16
		scale, offset float64
		step          float64
		low, high     float64
	}{
		{"kN from the file", channel(fl, checks.Fx), "FL_Forces.Fx", 0, 1000, 0, 1, -32768, 32767},
		{"kN from the setup", channel(fl, checks.Fz), "FL_Forces.Fz", 0, 1000, 0, 1, -32768, 32767},
		{"sign and scale", channel(fr, checks.Fy), "FR_Forces.Fy", 0, -2000, 0, 2, 65536, -65534},
		{"degrees", channel(fl, checks.Angle), "FL_Angle.Theta", 0, deg, 0, 2 * math.Pi / 65536, 0, 2 * math.Pi * 65535 / 65536},
		{"rpm", channel(fr, checks.Spin), "FR_Angle.Speed", 0, 2 * math.Pi / 60, 0, math.Pi / 960, -32768 * math.Pi / 960, 32767 * math.Pi / 960},
		{"kelvin", channel(fl, checks.Temperature), "FL_State.Temp", 0, 1, -273.15, 0.1, -3276.8 - 273.15, 3276.7 - 273.15},
		{"volts", channel(fl, checks.Supply), "FL_State.Volt", 0, 1, 0, 0.2, 0, 51},
		{"serial number", channel(fr, checks.Serial), "FR_State.Serial", 0, 1, 0, 1, 0, 1<<24 - 1},
		{"millimetres", channel(bar, checks.HeightOuter), "Camber.Outer", 1, 0.001, 0, 1e-5, 0, 0.65535},
		{"km/h", channel(road, checks.SpeedY), "Road.Vy", 1, 1 / 3.6, 0, 0.01 / 3.6, -327.68 / 3.6, 327.67 / 3.6},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			if row.channel == checks.None {
				t.Fatal("the channel is not there")
			}
			b, c := &s.Bindings[row.channel], &s.Checks.Channels[row.channel]
			type found struct {
				Signal, Bound                  string
				Source                         uint16
				Channel                        int32
				Scale, Offset, Step, Low, High float64
			}
			got := found{c.Name, b.Message.Name + "." + b.Message.Signals[b.Signal].Name, b.Source, b.Channel, b.Scale, b.Offset, c.Step, c.Low, c.High}
			want := found{row.signal, row.signal, row.source, row.channel, row.scale, row.offset, row.step, row.low, row.high}
			if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}

	t.Run("taken away", func(t *testing.T) {
		if fr[checks.Supply] != checks.None || fr[checks.Status] != checks.None {
			t.Errorf("supply %d, status %d of FR, want none of both", fr[checks.Supply], fr[checks.Status])
		}
	})
	t.Run("good values", func(t *testing.T) {
		// raw 0 ("well") and raw 1, delivered as 2·raw + 1
		if diff := cmp.Diff([]float64{1, 3}, s.Checks.Channels[fl[checks.Status]].Good); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
	t.Run("messages", func(t *testing.T) {
		want := []checks.Message{
			{Name: "FL_Forces", Period: 0.005, Length: 6},
			{Name: "FL_Moments", Period: 0.005, Length: 6},
			{Name: "FL_Angle", Period: 0.005, Length: 4},
			{Name: "FL_State", Length: 8},
			{Name: "FR_Forces", Period: 0.005, Length: 6},
			{Name: "FR_Moments", Period: 0.005, Length: 6},
			{Name: "FR_Angle", Period: 0.005, Length: 4},
			{Name: "FR_State", Length: 8},
			{Name: "Camber", Source: 1, Length: 6},
			{Name: "Road", Source: 1, Length: 4},
		}
		if diff := cmp.Diff(want, s.Checks.Messages); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
	t.Run("sources", func(t *testing.T) {
		want := []Source{
			{Name: "wheels", Kind: CAN, Interface: "can0", Match: "can0"},
			{
				Name: "optics", Kind: Serial, Interface: "/dev/serial/by-id/usb-example-if00", Match: "slcan3",
				Baud: 921600, Framing: "cobs", Checksum: &Checksum{Width: 16, Poly: 0x1021, Init: 0xFFFF},
				Format: serialport.Format{Framing: serialport.COBS, Checksum: &serialport.Checksum{Kind: serialport.KindCRC, CRC: serialport.CRC{Width: 16, Poly: 0x1021, Init: 0xFFFF}}},
			},
		}
		if diff := cmp.Diff(want, s.Sources); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
	t.Run("corners", func(t *testing.T) {
		common := checks.Corner{Axle: 1, AngleCounts: 2048, Bolts: 5, WheelMassKg: 34, OverhangM: 0.012, Tyre: "225/75 R16", HasSerial: true}
		left, right := common, common
		left.Name, left.LoadN, left.Serial = "FL", 7900, 40117
		right.Name, right.Side, right.LoadN, right.Serial, right.WheelMassKg = "FR", checks.Right, 7850, 40118, 35
		if diff := cmp.Diff([]checks.Corner{left, right}, s.Checks.Corners, cmpopts.IgnoreFields(checks.Corner{}, "Channels")); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
		if diff := cmp.Diff([]int{1, 0}, s.Checks.TurnOrder); diff != "" {
			t.Errorf("turn order (-want +got):\n%s", diff)
		}
	})
	t.Run("limits", func(t *testing.T) {
		want := checks.DefaultLimits()
		want.ZeroForceN, want.AngleOffsetRad, want.SupplyV = 80, 1.5*deg, [2]float64{10, 15}
		if diff := cmp.Diff(want, s.Checks.Limits); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
	t.Run("results", func(t *testing.T) {
		if want := filepath.Join(testdata, "good", "signed tests"); s.Results != want {
			t.Errorf("results go to %q, want %q: relative to the setup", s.Results, want)
		}
	})
	t.Run("what was read", func(t *testing.T) {
		var got []string
		for _, f := range s.Files {
			text, err := os.ReadFile(filepath.Join(testdata, "good", f.Path))
			if err != nil || !bytes.Equal(f.Text, text) {
				t.Errorf("%s: %v, %d bytes, want the %d of the file", f.Path, err, len(f.Text), len(text))
			}
			got = append(got, f.Path)
		}
		if diff := cmp.Diff([]string{"vehicle.dbc", "optics.dbc"}, got); diff != "" || hash(s.Text) != s.SHA256 {
			t.Errorf("hash of the text %s, want %s; files (-want +got):\n%s", hash(s.Text), s.SHA256, diff)
		}
	})
	t.Run("confirmations", func(t *testing.T) {
		want := []Confirmation{
			{ID: "wheel-bolts", Text: "Wheel bolts tightened in sequence with a torque wrench", HasValue: true, Unit: "N·m", Min: 150, Max: 170},
			{ID: "cable", Text: "Cable arm fixed at the hub and at both body anchors, second line fitted"},
		}
		if diff := cmp.Diff(want, s.Confirm); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
}

// TestRecordings loads the setups that stand beside recordings.
func TestRecordings(t *testing.T) {
	paths, err := filepath.Glob(testdata + "/clean-*/setup.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no setups found (%v)", err)
	}
	for _, path := range paths {
		t.Run(filepath.Base(filepath.Dir(path)), func(t *testing.T) {
			s, err := Load(path)
			if err != nil {
				t.Fatal(err)
			}
			want := 12*len(s.Checks.Corners) + 5
			if got := len(s.Bindings); got != want {
				t.Errorf("got %d channels, want %d", got, want)
			}
			if len(s.Warnings) > 0 {
				t.Errorf("got warnings %q, want none", s.Warnings)
			}
		})
	}
}

// TestLoadErrors tells what cannot be read from what is wrong.
func TestLoadErrors(t *testing.T) {
	t.Run("no file", func(t *testing.T) {
		_, err := Load(testdata + "/none.yaml")
		if _, faults := errors.AsType[Faults](err); faults || !errors.Is(err, os.ErrNotExist) {
			t.Errorf("got %v, want that the file does not exist", err)
		}
	})
	t.Run("too large", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "big.yaml")
		if err := os.WriteFile(path, []byte(strings.Repeat("#", maxBytes+1)), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Load(path); err == nil || !strings.Contains(err.Error(), "larger than 1048576 bytes") {
			t.Errorf("got %v, want that the file is too large", err)
		}
	})
}
