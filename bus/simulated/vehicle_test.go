package simulated

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"math"
	"testing"
	"time"

	"plumbline/bus"
)

func digest(frames []bus.Frame) uint64 {
	h := fnv.New64a()
	for i := range frames {
		f := &frames[i]
		fmt.Fprintf(h, "%d %d %x %d %x\n", f.At, f.Source, f.ID, f.Flags, f.Payload())
	}
	return h.Sum64()
}

func TestSameSeedSameFrames(t *testing.T) {
	cfg := Standard(4)
	cfg.Script, _ = cfg.Preset("short")
	first := digest(hear(t, cfg).all)
	if again := digest(hear(t, cfg).all); again != first {
		t.Errorf("the same seed gave %x, then %x", first, again)
	}
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	small := bus.Batch{Frames: make([]bus.Frame, 0, 7)}
	var all []bus.Frame
	for v.Read(&small) == nil {
		if len(small.Frames) > 7 {
			t.Fatalf("a batch for 7 frames holds %d", len(small.Frames))
		}
		all = append(all, small.Frames...)
	}
	if got := digest(all); got != first {
		t.Errorf("small batches gave %x, want %x", got, first)
	}
	cfg.Seed++
	if other := digest(hear(t, cfg).all); other == first {
		t.Errorf("another seed gave the same frames")
	}
}

func TestOrderAndRates(t *testing.T) {
	for _, corners := range []int{1, 2, 4, 6, 8} {
		for _, rate := range []float64{100, 1000} {
			t.Run(fmt.Sprintf("%d corners at %v Hz", corners, rate), func(t *testing.T) {
				cfg := Standard(corners)
				cfg.RateHz = rate
				cfg.Script = []Phase{{Kind: Rest, Seconds: 1}, {Kind: Drive, SpeedMps: 1}}
				h := hear(t, cfg)
				if len(cfg.Corners) != corners {
					t.Fatalf("got %d corners", len(cfg.Corners))
				}
				for i := 1; i < len(h.all); i++ {
					if h.all[i].At < h.all[i-1].At {
						t.Fatalf("frame %d is at %d, the one before at %d", i, h.all[i].At, h.all[i-1].At)
					}
				}
				v, _ := New(cfg)
				seconds := v.Duration().Seconds()
				for _, k := range cfg.Corners {
					for i, want := range []float64{rate, rate, rate, 10} {
						near(t, fmt.Sprintf("%s message %d", k.Name, i), float64(len(h.byID[h.corner[k.Name]+uint32(i)])), want*seconds, 1.01)
					}
				}
				near(t, "camber", float64(len(h.bar())), 100*seconds, 1.01)
				near(t, "road", float64(len(h.road())), 100*seconds, 1.01)
			})
		}
	}
}

func TestMarks(t *testing.T) {
	cfg := Standard(2)
	cfg.Script, _ = cfg.Preset("short")
	if h := hear(t, cfg); len(h.notes) != 0 {
		t.Errorf("got %d notes, want none unless asked for", len(h.notes))
	}
	cfg.Marks = true
	h := hear(t, cfg)
	var got []string
	for _, n := range h.notes {
		if n.Kind != bus.Mark {
			t.Errorf("unexpected note: %+v", n)
		}
		got = append(got, n.Text)
	}
	want := []string{"on the lift", "turn FL", "turn FR", "down"}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if h.notes[1].At != h.v.Spans()[3].From {
		t.Errorf("the mark %q is at %d, want %d", h.notes[1].Text, h.notes[1].At, h.v.Spans()[3].From)
	}
}

// A spin of the lifted wheel tells zero, misalignment, weight and axes; what
// comes out must be what Truth says.
func TestTruth(t *testing.T) {
	for _, fixed := range []bool{false, true} {
		t.Run(fmt.Sprintf("fixed %v", fixed), func(t *testing.T) {
			cfg := Standard(4)
			cfg.Script = []Phase{{Kind: Lift}}
			for i := range cfg.Corners {
				cfg.Corners[i].Fixed = fixed
				cfg.Corners[i].AngleCounts = 16384
				cfg.Corners[i].Flaws = &Flaws{
					Zero: [6]float64{21, -13, 35, 4, -6, 2.5}, MisalignRad: 0.02 * float64(i-1), Weight: 0.03, AxesRe: 0.02, AxesIm: -0.01,
					DragNm: 3, NoiseN: 8, NoiseNm: 1.5,
				}
				cfg.Script = append(cfg.Script, Phase{Kind: Turn, Corner: cfg.Corners[i].Name, Turns: 6})
			}
			h := hear(t, cfg)
			for i, truth := range h.v.Truth().Corners {
				angles := h.during(1+i, h.angles(truth.Name))
				forces, moments := h.during(1+i, h.forces(truth.Name)), h.during(1+i, h.moments(truth.Name))
				if fixed {
					turnBack(forces, angles)
					turnBack(moments, angles)
				}
				o, plus, minus := sines(forces, angles)
				name := func(what string) string { return truth.Name + " " + what }
				near(t, name("zero Fx"), real(o), truth.Zero[0], 1.5)
				near(t, name("zero Fz"), imag(o), truth.Zero[2], 1.5)
				near(t, name("zero Fy"), mean(forces, 1), truth.Zero[1], 1)
				near(t, name("zero My"), mean(moments, 1), truth.Zero[4], 0.3)
				turned := plus * 1i // i·g₊ = m·g·e^{−iδ}
				near(t, name("misalignment"), -math.Atan2(imag(turned), real(turned)), truth.AngleOffsetRad, 0.003)
				near(t, name("weight"), math.Hypot(real(plus), imag(plus))/(34*9.80665), truth.Weight, 0.004)
				near(t, name("axes"), math.Hypot(real(minus), imag(minus))/math.Hypot(real(plus), imag(plus)), math.Hypot(0.02, 0.01), 0.003)
				o, plus, _ = sines(moments, angles)
				near(t, name("zero Mx"), real(o), truth.Zero[3], 0.3)
				near(t, name("zero Mz"), imag(o), truth.Zero[5], 0.3)
				// The weight's moment: −m·g·e on the left, +m·g·e on the right.
				side := 1.0
				if cfg.Corners[i].Right {
					side = -1
				}
				near(t, name("moment of the weight"), real(plus), -side*34*9.80665*0.012, 0.3)
			}
		})
	}
}

// turnBack makes rotating components of fixed ones with the angle that was sent.
func turnBack(values, angles []point) {
	for i := range values {
		if i >= len(angles) {
			break
		}
		sin, cos := math.Sincos(angles[i].v[0])
		x, z := values[i].v[0], values[i].v[2]
		values[i].v[0], values[i].v[2] = x*cos-z*sin, x*sin+z*cos
	}
}

// On the ground the transducer shows the contact load less the wheel's weight,
// whatever the angle at which the wheel stands.
func TestStandingLoad(t *testing.T) {
	cfg := Standard(4)
	cfg.Script = []Phase{{Kind: Rest, Seconds: 2}}
	h := hear(t, cfg)
	sum := 0.0
	for _, truth := range h.v.Truth().Corners {
		forces := h.forces(truth.Name)
		size := math.Hypot(mean(forces, 0), mean(forces, 2))
		near(t, truth.Name, size+34*9.80665, truth.LoadN, 60)
		sum += truth.LoadN
	}
	near(t, "sum against the vehicle's mass", sum, cfg.MassKg*9.80665, 0.02*cfg.MassKg*9.80665)
}

func TestBuses(t *testing.T) {
	cfg := Standard(4)
	cfg.Corners[2].Bus, cfg.Corners[3].Bus = "can1", "can1"
	cfg.Script = []Phase{{Kind: Rest, Seconds: 1}}
	h := hear(t, cfg)
	if got, want := fmt.Sprint(h.v.Names()), "[can0 can1]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	for _, f := range h.all {
		want := uint16(0)
		if f.ID >= 0x120 && f.ID < 0x140 {
			want = 1
		}
		if f.Source != want {
			t.Fatalf("frame %#x: got source %d, want %d", f.ID, f.Source, want)
		}
	}
	if files := cfg.DBCs(); len(files) != 2 || files[1].Name != "can1.dbc" {
		t.Errorf("got %d DBC files", len(files))
	}
}

func TestClose(t *testing.T) {
	v, err := New(Standard(1))
	if err != nil {
		t.Fatal(err)
	}
	var b bus.Batch
	if err := v.Read(&b); err != nil {
		t.Fatal(err)
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	if err := v.Read(&b); !errors.Is(err, io.EOF) || len(b.Frames) != 0 {
		t.Errorf("after Close: got %v and %d frames", err, len(b.Frames))
	}
}

func TestConfigFaults(t *testing.T) {
	for name, spoil := range map[string]func(*Config){
		"no corner":         func(c *Config) { c.Corners = nil },
		"twice":             func(c *Config) { c.Corners[1].Name = "FL" },
		"no identifier":     func(c *Config) { c.Corners[1].Name = "1L" },
		"rate":              func(c *Config) { c.RateHz = math.NaN() },
		"jitter":            func(c *Config) { c.JitterS = -1 },
		"tyre":              func(c *Config) { c.Corners[0].Tyre = "round" },
		"counts":            func(c *Config) { c.Corners[0].AngleCounts = 1 << 20 },
		"load":              func(c *Config) { c.Corners[0].LoadN = -1 },
		"optic's corner":    func(c *Config) { c.Optics[0].Corner = "XX" },
		"optic's kind":      func(c *Config) { c.Optics[0].Kind = "sonar" },
		"two of a name":     func(c *Config) { c.Optics[1].Name = c.Optics[0].Name },
		"turn order":        func(c *Config) { c.TurnOrder = []string{"XX"} },
		"unknown fault":     func(c *Config) { c.Faults = []Fault{{Kind: "zeroo", Corner: "FL"}} },
		"fault's corner":    func(c *Config) { c.Faults = []Fault{{Kind: "zero", Corner: "XX"}} },
		"fault's value":     func(c *Config) { c.Faults = []Fault{{Kind: "lost", Corner: "FL", Value: 2}} },
		"one of two":        func(c *Config) { c.Faults = []Fault{{Kind: "harness", Corner: "FL"}} },
		"two of one":        func(c *Config) { c.Faults = []Fault{{Kind: "zero", Corner: "FL,FR"}} },
		"exchanged with it": func(c *Config) { c.Faults = []Fault{{Kind: "harness", Corner: "FL,FL"}} },
	} {
		t.Run(name, func(t *testing.T) {
			cfg := Standard(4)
			spoil(&cfg)
			_, err := New(cfg)
			if err == nil {
				t.Fatal("accepted")
			}
			t.Log(err)
		})
	}
}

func TestReadAllocatesNothing(t *testing.T) {
	cfg := Standard(8)
	cfg.Script, _ = cfg.Preset("drive")
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var b bus.Batch
	if got := testing.AllocsPerRun(100, func() {
		if err := v.Read(&b); err != nil {
			t.Fatal(err)
		}
	}); got != 0 {
		t.Errorf("got %v allocations per Read, want 0", got)
	}
}

func TestFunctionTestDuration(t *testing.T) {
	// 8 standing, 4 up, 4 hanging, 4 · 2 · (6 + 0.7) turning, 2 hanging, 4 down,
	// 5 + 3 standing, 1.25 + 8 and 2.92 + 10 rolling, 4.17 stopping, 4 standing.
	got := FunctionTestDuration(Standard(4))
	near(t, "seconds", got.Seconds(), 113.93, 0.01)
	if got := FunctionTestDuration(Config{}); got != 0 {
		t.Errorf("of nothing: got %v", got)
	}
	for _, corners := range []int{1, 2, 4, 6, 8} { // what is promised of plumbline demo, at one and at twenty times its speed
		if got := FunctionTestDuration(Standard(corners)); got > 4*time.Minute || got/20 > 15*time.Second {
			t.Errorf("a function test of %d corners takes %v: too long to watch", corners, got)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	cfg := Standard(4)
	cfg.Script, _ = cfg.Preset("long")
	v, err := New(cfg)
	if err != nil {
		b.Fatal(err)
	}
	var batch bus.Batch
	frames := 0
	b.ReportAllocs()
	for b.Loop() {
		if err := v.Read(&batch); err != nil {
			b.StopTimer()
			if v, err = New(cfg); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
		}
		frames += len(batch.Frames)
	}
	b.ReportMetric(float64(frames)/b.Elapsed().Seconds(), "frames/s")
}
