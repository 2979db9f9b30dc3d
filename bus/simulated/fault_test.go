package simulated

import (
	"math"
	"slices"
	"testing"

	"plumbline/bus"
)

// Phases of the script that every fault is tried on.
const (
	standing = 0
	hanging  = 2
	turnFL   = 3
	turnRR   = 4
	lowered  = 6
	rolling  = 7
)

// faultVehicle has perfect corners but for noise, so that what a fault does is
// all there is.
func faultVehicle(faults ...Fault) Config {
	cfg := Standard(4)
	cfg.JitterS = 0
	for i := range cfg.Corners {
		cfg.Corners[i].Flaws = &Flaws{DragNm: 2, NoiseN: 8, NoiseNm: 1.5, SupplyV: 13.8, TemperatureC: 23}
	}
	cfg.Script = []Phase{
		{Kind: Rest, Seconds: 2},
		{Kind: Lift, Seconds: 1},
		{Kind: Rest, Seconds: 1},
		{Kind: Turn, Corner: "FL", Turns: 3},
		{Kind: Turn, Corner: "RR", Turns: 3},
		{Kind: Lower, Seconds: 1},
		{Kind: Rest, Seconds: 2},
		{Kind: Drive, SpeedMps: 3, Seconds: 6},
		{Kind: Drive, SpeedMps: 0},
		{Kind: Rest, Seconds: 2},
	}
	cfg.Faults = faults
	return cfg
}

// spin returns what the spin of FL says of its sensor: the zero of the rotating
// axes, misalignment, weight ratio, and the ratio of the negative sequence.
func (h *heard) spin(forces, angles string, phase int) (o complex128, offset, weight, negative float64) {
	o, p, n := sines(h.during(phase, h.forces(forces)), h.during(phase, h.angles(angles)))
	turned := p * 1i
	size := math.Hypot(real(p), imag(p))
	return o, -math.Atan2(imag(turned), real(turned)), size / (34 * 9.80665), math.Hypot(real(n), imag(n)) / size
}

// forwardBack cuts the turning of FL into the two ways.
func (h *heard) forwardBack(all []point) (forward, back []point) {
	span := h.v.Spans()[turnFL]
	most := int64(0)
	highest := math.Inf(-1)
	for at := span.From; at < span.To; at += 1e7 {
		if a := h.v.TrueAngle("FL", at); a > highest {
			highest, most = a, at
		}
	}
	for _, p := range h.during(turnFL, all) {
		moving := math.Abs(h.v.TrueAngle("FL", p.at+1e7)-h.v.TrueAngle("FL", p.at-1e7)) > 0.04 // 2 rad/s
		switch {
		case !moving:
		case p.at < most:
			forward = append(forward, p)
		default:
			back = append(back, p)
		}
	}
	return forward, back
}

func share(part, whole int) float64 { return float64(part) / float64(whole) }

// Each row says what one kind of fault must do to the stream. Healthy is the
// same vehicle without it. The figures follow from the fault's value.
func TestEveryKindOfFault(t *testing.T) {
	const deg = math.Pi / 180
	type row = faultRow
	silent := func(offsets ...uint32) func(*testing.T, *heard, *heard) {
		return func(t *testing.T, h, healthy *heard) {
			t.Helper()
			for i := range uint32(4) {
				want := len(healthy.byID[0x100+i])
				if slices.Contains(offsets, i) {
					want = 0
				}
				near(t, "frames", float64(len(h.byID[0x100+i])), float64(want), 0)
			}
		}
	}
	zero := func(c int, want float64) func(*testing.T, *heard, *heard) {
		return func(t *testing.T, h, _ *heard) {
			t.Helper()
			var got [6]float64
			forces, moments, angles := h.during(turnFL, h.forces("FL")), h.during(turnFL, h.moments("FL")), h.during(turnFL, h.angles("FL"))
			o, _, _ := sines(forces, angles)
			got[0], got[1], got[2] = real(o), mean(forces, 1), imag(o)
			o, _, _ = sines(moments, angles)
			got[3], got[4], got[5] = real(o), mean(moments, 1), imag(o)
			for i := range got {
				expect := 0.0
				if i == c {
					expect = want
				}
				near(t, components()[i], got[i], expect, 2)
			}
		}
	}
	frozen := func(c int) func(*testing.T, *heard, *heard) {
		return func(t *testing.T, h, _ *heard) {
			t.Helper()
			for i := range 6 {
				all := h.forces("FL")
				if i >= 3 {
					all = h.moments("FL")
				}
				if got := deviation(all, i%3) < 1e-9; got != (i == c) {
					t.Errorf("%s: stands still: %v", components()[i], got)
				}
			}
		}
	}
	offset := func(want float64) func(*testing.T, *heard, *heard) {
		return func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, got, _, _ := h.spin("FL", "FL", turnFL)
			near(t, "misalignment", got/deg, want, 0.3) // half a count is 0.09°
		}
	}
	rows := []row{
		{"silent:FL", silent(0, 1, 2, 3)},
		{"silent-forces:FL", silent(0)},
		{"silent-moments:FL", silent(1)},
		{"silent-angle:FL", silent(2)},
		{"silent-state:FL", silent(3)},
		{"lost:FL=0.05", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "frames", share(len(h.forces("FL")), len(healthy.forces("FL"))), 0.95, 0.01)
			within(t, h.byID[0x100], healthy.byID[0x100])
		}},
		{"gap:FL=0.8", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "longest gap, s", longestGap(h.forces("FL")).Seconds(), 0.8, 0.011)
			within(t, h.byID[0x100], healthy.byID[0x100])
		}},
		{"counter:FL=3", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			jumps := 0
			all := h.counters("FL")
			for i := 1; i < len(all); i++ {
				switch step := (all[i] - all[i-1] + 256) % 256; step {
				case 1:
				case 4:
					jumps++
				default:
					t.Errorf("the counter steps by %d", step)
				}
			}
			near(t, "jumps", float64(jumps), math.Floor(h.v.Duration().Seconds()), 0)
			near(t, "frames", float64(len(all)), float64(len(healthy.counters("FL"))), 0)
		}},
		{"slow:FL=0.5", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "frames", share(len(h.forces("FL")), len(healthy.forces("FL"))), 0.5, 0.001)
		}},
		{"off:FL,RR=9", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			for _, c := range []string{"FL", "RR"} {
				all := h.forces(c)
				near(t, "last frame, s", float64(all[len(all)-1].at-DefaultStart)/1e9, 9, 0.006)
			}
			near(t, "FR", float64(len(h.forces("FR"))), float64(len(healthy.forces("FR"))), 0)
		}},
		{"late=6", func(t *testing.T, h, _ *heard) {
			t.Helper()
			for _, c := range []string{"FL", "FR", "RL", "RR"} {
				near(t, "first frame, s", float64(h.forces(c)[0].at-DefaultStart)/1e9, 6, 0.006)
			}
		}},
		{"reboot:FL=2", func(t *testing.T, h, _ *heard) {
			t.Helper()
			all := h.forces("FL")
			near(t, "longest gap, s", longestGap(all).Seconds(), 2, 0.006)
			for i := 1; i < len(all); i++ {
				if all[i].at-all[i-1].at > 1e9 {
					near(t, "counter after it", float64(h.counters("FL")[i]), 0, 0)
				}
			}
		}},
		{"bus-errors=5", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			n := 0
			for _, f := range h.all {
				if f.Flags.Has(bus.Error) {
					n++
				}
			}
			near(t, "error frames per second", float64(n)/h.v.Duration().Seconds(), 5, 0.1)
			near(t, "other frames", float64(len(h.all)-n), float64(len(healthy.all)), 0)
		}},
		{"bus-drops:can0=40", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "notes", float64(len(h.notes)), math.Floor(h.v.Duration().Seconds()/10), 0)
			for _, n := range h.notes {
				if n.Kind != bus.Loss || n.Count != 40 {
					t.Errorf("got %+v", n)
				}
			}
			near(t, "frames", float64(len(h.all)), float64(len(healthy.all)), 0)
		}},
		{"bit-rate", func(t *testing.T, h, _ *heard) {
			t.Helper()
			for _, f := range h.all {
				if !f.Flags.Has(bus.Error) {
					t.Fatalf("frame %#x gets through", f.ID)
				}
			}
			near(t, "error frames per second", float64(len(h.all))/h.v.Duration().Seconds(), 50, 0.5)
		}},
		{"identity:FL=4711", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "serial", h.state("FL", 2)[0], 4711, 0)
			near(t, "healthy", healthy.state("FL", 2)[0], 40117, 0)
		}},
		{"harness:FL,RR", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			_, _, weight, _ := h.spin("RR", "RR", turnFL)
			near(t, "RR's plug while FL is turned", weight, 1, 0.01)
			near(t, "FL's angle while FL is turned", deviation(h.during(turnFL, h.angles("FL")), 0), 0, 1e-9)
			near(t, "FL's serial", h.state("FL", 2)[0], healthy.state("RR", 2)[0], 0)
		}},
		{"angle-cable:FL,RR", func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, _, weight, _ := h.spin("FL", "RR", turnFL)
			near(t, "FL's forces against RR's angle", weight, 1, 0.01)
			near(t, "FL's serial", h.state("FL", 2)[0], 40117, 0)
		}},
		{"force-cable:FL,RR", func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, _, weight, _ := h.spin("RR", "FL", turnFL)
			near(t, "RR's forces against FL's angle", weight, 1, 0.01)
			_, offset, _, _ := h.spin("RR", "FL", turnFL)
			near(t, "misalignment", offset, 0, 0.005)
		}},
		{"copy:FL,RR", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			a, b := h.forces("FL"), h.forces("RR")
			c, d := h.moments("FL"), h.moments("RR")
			for i := range b {
				if a[i].v != b[i].v || c[i].v != d[i].v {
					t.Fatalf("sample %d: FL %v %v, RR %v %v", i, a[i].v, c[i].v, b[i].v, d[i].v)
				}
			}
			if healthy.forces("FL")[100].v == healthy.forces("RR")[100].v {
				t.Error("they are the same without the fault")
			}
		}},
		{"zero:FL=115", zero(2, 115)},
		{"zero-fx:FL=-90", zero(0, -90)},
		{"zero-fy:FL=75", zero(1, 75)},
		{"zero-fz:FL=115", zero(2, 115)},
		{"zero-mx:FL=25", zero(3, 25)},
		{"zero-my:FL=-25", zero(4, -25)},
		{"zero-mz:FL=18", zero(5, 18)},
		{"weight:FL=1.12", func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, _, weight, _ := h.spin("FL", "FL", turnFL)
			near(t, "weight", weight, 1.12, 0.01)
		}},
		{"axes:FL=0.08", func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, _, weight, negative := h.spin("FL", "FL", turnFL)
			near(t, "weight", weight, 1, 0.01)
			near(t, "negative sequence", negative, 0.04, 0.005)
		}},
		{"axes-angle:FL=4", func(t *testing.T, h, _ *heard) {
			t.Helper()
			_, _, _, negative := h.spin("FL", "FL", turnFL)
			near(t, "negative sequence", negative, 2*deg, 0.005)
		}},
		{"drag:FL=22", func(t *testing.T, h, _ *heard) {
			t.Helper()
			forward, back := h.forwardBack(h.moments("FL"))
			near(t, "My forward", mean(forward, 1), 22, 1)
			near(t, "My back", mean(back, 1), -22, 1)
		}},
		{"rub:FL=30", func(t *testing.T, h, _ *heard) {
			t.Helper()
			forward, _ := h.forwardBack(h.moments("FL"))
			most := slices.MaxFunc(forward, func(a, b point) int { return int(a.v[1] - b.v[1]) })
			near(t, "most My", most.v[1], 32, 5)
			near(t, "at", math.Remainder(h.v.TrueAngle("FL", most.at)-ringAt, 2*math.Pi), 0, 0.6)
		}},
		{"angle-offset:FL=3", offset(3)},
		{"bolts:FL=1", offset(72)},
		{"angle-sense:FL", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			_, _, _, negative := h.spin("FL", "FL", turnFL)
			if negative < 20 {
				t.Errorf("negative over positive sequence: got %v, want it large", negative)
			}
			near(t, "spin", mean(h.during(rolling, h.angles("FL")), 1), -mean(healthy.during(rolling, healthy.angles("FL")), 1), 0.01)
		}},
		{"mirror:FL", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			_, _, _, negative := h.spin("FL", "FL", turnFL)
			if negative < 20 {
				t.Errorf("negative over positive sequence: got %v, want it large", negative)
			}
			near(t, "spin", mean(h.during(rolling, h.angles("FL")), 1), mean(healthy.during(rolling, healthy.angles("FL")), 1), 0)
		}},
		{"angle-steps:FL=256", func(t *testing.T, h, _ *heard) {
			t.Helper()
			for _, p := range h.angles("FL") {
				count := p.v[0] / (2 * math.Pi) * 256
				near(t, "count", count, math.Round(count), 1e-9)
			}
		}},
		{"angle-jumps:FL=20", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "most in a step", biggestStep(h.angles("FL")), 20*deg, 3*deg)
			if biggestStep(healthy.angles("FL")) > 4*deg {
				t.Error("the healthy angle jumps as well")
			}
		}},
		{"angle-slip:FL=2", func(t *testing.T, h, _ *heard) {
			t.Helper()
			all := h.during(rolling, h.angles("FL"))
			shown := unwrapped(all)
			last := len(all) - 1
			turned := h.v.TrueAngle("FL", all[last].at) - h.v.TrueAngle("FL", all[0].at)
			near(t, "lost per revolution, °", (1-(shown[last]-shown[0])/turned)*360, 2, 0.05)
		}},
		{"angle-stuck:FL=5", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "angle while rolling", deviation(h.during(rolling, h.angles("FL")), 0), 0, 1e-9)
			near(t, "speed while rolling", mean(h.during(rolling, h.angles("FL")), 1), mean(healthy.during(rolling, healthy.angles("FL")), 1), 0)
		}},
		{"angle-spin:FL=1.1", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "speed", mean(h.during(rolling, h.angles("FL")), 1)/mean(healthy.during(rolling, healthy.angles("FL")), 1), 1.1, 0.001)
		}},
		{"skew:FL=0.012", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			// Late by τ: the angle is what it was τ before.
			late, shown := h.during(turnFL, h.angles("FL")), unwrapped(h.during(turnFL, h.angles("FL")))
			for i := 0; i < len(late); i += 50 {
				want := h.v.TrueAngle("FL", late[i].at-12_000_000)
				near(t, "angle", math.Remainder(shown[i]-want, 2*math.Pi), 0, 2*math.Pi/2048)
			}
			if len(late) != len(healthy.during(turnFL, healthy.angles("FL"))) {
				t.Error("frames are missing")
			}
		}},
		{"coupling:FL=0.4", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			within(t, h.byID[0x100], healthy.byID[0x100])
			here, there := ringShare(h), ringShare(healthy)
			near(t, "frames near the ring's bad place", here[0]/there[0], 0.6, 0.06)
			near(t, "frames elsewhere", here[1]/there[1], 1, 0)
		}},
		{"coupling-noise:FL=150", func(t *testing.T, h, _ *heard) {
			t.Helper()
			var in, out []point
			for _, p := range h.during(rolling, h.forces("FL")) {
				if math.Cos(h.v.TrueAngle("FL", p.at)-ringAt) > 0.867 {
					in = append(in, p)
				} else if math.Cos(h.v.TrueAngle("FL", p.at)-ringAt) < 0.8 {
					out = append(out, p)
				}
			}
			near(t, "Fy near the bad place", deviation(in, 1), 150, 25)
			near(t, "Fy elsewhere", deviation(out, 1), 11, 6)
		}},
		{"frozen:FL", frozen(2)},
		{"frozen-fx:FL", frozen(0)},
		{"frozen-fy:FL", frozen(1)},
		{"frozen-fz:FL", frozen(2)},
		{"frozen-mx:FL", frozen(3)},
		{"frozen-my:FL", frozen(4)},
		{"frozen-mz:FL", frozen(5)},
		{"clipped:FL=3000", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			ends := 0
			for i, p := range h.forces("FL") {
				for j, v := range p.v {
					was := healthy.forces1(i, j)
					switch {
					case v == 32767 || v == -32768:
						ends++
						if math.Abs(was) < 2999 {
							t.Fatalf("%v was clipped", was)
						}
					case v != was:
						t.Fatalf("got %v, want %v", v, was)
					}
				}
			}
			if ends == 0 {
				t.Error("nothing was clipped")
			}
		}},
		{"range:FL=0.95", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			out := 0
			for _, p := range h.forces("FL") {
				if math.Abs(p.v[2]-0.95*32767) < 1 {
					out++
				}
			}
			near(t, "share of the time", share(out, len(healthy.forces("FL"))), 0.3/6, 0.01)
		}},
		{"noise:FL=80", func(t *testing.T, h, _ *heard) {
			t.Helper()
			near(t, "Fx", deviation(h.during(standing, h.forces("FL")), 0), 80, 8)
			near(t, "Mx", deviation(h.during(standing, h.moments("FL")), 0), 16, 2)
		}},
		{"spikes:FL=60", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			far := 0
			for i, p := range h.forces("FL") {
				for j, v := range p.v {
					if d := math.Abs(v - healthy.forces1(i, j)); d != 0 {
						far++
						near(t, "height", d, spikeN, 1)
					}
				}
			}
			near(t, "per second", float64(far)/h.v.Duration().Seconds(), 1, 0.4)
		}},
		{"hum:FL=45", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			// At 200 Hz the four samples of a period differ; amplitude/√2 is the RMS.
			a, b := h.during(standing, h.forces("FL")), healthy.during(standing, healthy.forces("FL"))
			for i := range a {
				a[i].v[0] -= b[i].v[0]
			}
			near(t, "Fx", deviation(a, 0), 45/math.Sqrt2, 0.6)
			near(t, "Fx repeats after a period", a[40].v[0], a[44].v[0], 1)
			near(t, "Fx is opposite after half a period", a[40].v[0], -a[42].v[0], 1)
		}},
		{"status:FL=4", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "status", mean(h.angles("FL"), 2), 4, 0)
			near(t, "healthy", mean(healthy.angles("FL"), 2), 0, 0)
		}},
		{"supply:FL=8.2", func(t *testing.T, h, _ *heard) {
			t.Helper()
			for _, v := range h.state("FL", 1) {
				near(t, "supply", v, 8.2, 0.1)
			}
		}},
		{"supply-dip:FL=6", func(t *testing.T, h, _ *heard) {
			t.Helper()
			all := h.state("FL", 1)
			low := 0
			for _, v := range all {
				if v < 7 {
					low++
				}
			}
			near(t, "lowest", slices.Min(all), 6, 0.1)
			near(t, "share of the time", share(low, len(all)), 0.7/8, 0.04)
		}},
		{"temperature:FL=96", func(t *testing.T, h, _ *heard) {
			t.Helper()
			for _, v := range h.state("FL", 0) {
				near(t, "temperature", v, 96, 0.4)
			}
		}},
		{"load:FL=1.25", func(t *testing.T, h, _ *heard) {
			t.Helper()
			all := h.during(standing, h.forces("FL"))
			near(t, "contact load", math.Hypot(mean(all, 0), mean(all, 2))+34*9.80665, 1.25*7900, 10)
		}},
		{"radius:FL=1.08", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "spin", mean(healthy.during(rolling, healthy.angles("FL")), 1)/mean(h.during(rolling, h.angles("FL")), 1), 1.08, 0.001)
		}},
		{"camber:FL=1.5", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "camber, °", (mean(h.bar(), 2)-mean(healthy.bar(), 2))/deg, 1.5, 0.002)
			near(t, "outer height", mean(h.bar(), 0), mean(healthy.bar(), 0), 0)
		}},
		{"clearance:camber FL=0.08", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "outer height", mean(h.bar(), 0)-mean(healthy.bar(), 0), 0.08, 1e-5)
			near(t, "healthy", (mean(healthy.during(standing, healthy.bar()), 0)+mean(healthy.during(standing, healthy.bar()), 1))/2, 0.2, 0.001)
			if lifted := mean(healthy.during(hanging, healthy.bar()), 0); lifted < 0.4 {
				t.Errorf("the bar hangs %v m above ground", lifted)
			}
		}},
		{"dropout:FL=0.1", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			lost := 0
			for i, p := range h.bar() {
				if p.v[0] > 0.6553 {
					lost++
				} else if p.v[0] != healthy.bar1(i) {
					t.Fatal("a valid value moved")
				}
			}
			near(t, "share", share(lost, len(h.bar())), 0.1, 0.02)
		}},
		{"rest-speed=0.4", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "speed", mean(h.during(standing, h.road()), 0), 0.4, 0.005)
			near(t, "healthy", mean(healthy.during(standing, healthy.road()), 0), 0, 0.005)
		}},
		{"slip:road=3", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			near(t, "slip angle, °", mean(h.during(rolling, h.road())[200:], 2)/deg, 3, 0.1)
			near(t, "healthy", mean(healthy.during(rolling, healthy.road())[200:], 2)/deg, 0, 0.1)
		}},
		{"drift:FL=180", func(t *testing.T, h, healthy *heard) {
			t.Helper()
			a, b := h.forces("FL"), healthy.forces("FL")
			near(t, "before the drive", mean(h.during(lowered, a), 0), mean(healthy.during(lowered, b), 0), 0)
			near(t, "after it", mean(h.during(9, a), 0)-mean(healthy.during(9, b), 0), 180, 0.1)
		}},
	}
	rows = append(rows, driveRows()...)
	healthy := hear(t, faultVehicle())
	seen := map[string]bool{}
	for _, r := range rows {
		t.Run(r.fault, func(t *testing.T) {
			f, err := ParseFault(r.fault)
			if err != nil {
				t.Fatal(err)
			}
			seen[f.Kind] = true
			h := hear(t, faultVehicle(f))
			r.ok(t, h, healthy)
			others(t, f, h, healthy)
		})
	}
	for _, k := range Kinds() {
		if !seen[k.Name] {
			t.Errorf("kind %s has no row: say what it does to the stream", k.Name)
		}
	}
}

// The name of a check stands for the first kind of fault that fails it.
func TestFaultByCheck(t *testing.T) {
	for text, want := range map[string]string{
		"placement:RL,RR": "harness:RL,RR", "alive:FL": "silent:FL", "zero:FL=120": "zero:FL=120", "angle-slip:FR": "angle-slip:FR=2", "bus": "bus-errors=5",
	} {
		f, err := ParseFault(text)
		if got := f.String(); err != nil || got != want {
			t.Errorf("%s is %s, %v; want %s", text, got, err, want)
		}
	}
}
