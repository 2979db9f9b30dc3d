package simulated

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// DefaultStart is the event time of the first moment, ns since 1970: a round
// number far from today, so that nobody takes a simulation for a recording.
const DefaultStart int64 = 1_700_000_000_000_000_000

// Config describes a vehicle, what is done with it and what is wrong with it.
// The zero value has no corner and is of no use: start from Standard.
type Config struct {
	Name    string // of the vehicle, for the setup file; empty: "Simulated vehicle"
	MassKg  float64
	Corners []Corner
	Optics  []Optic

	TurnOrder []string // corners in the order in which they are turned; nil: as in Corners
	Script    []Phase  // what is done with the vehicle; nil: Function
	Faults    []Fault

	Seed    uint64  // of everything that is drawn; the same seed gives the same frames
	Start   int64   // event time of the first moment, ns since 1970; 0: DefaultStart
	RateHz  float64 // of forces, moments and angles; 0: 200
	JitterS float64 // each frame is late by up to this much; 0: none
	BitRate uint32  // bit/s of each bus, told before the first frame as a CAN interface does; 0: not told

	// Differential makes the opposite wheel of a driven axle turn backwards
	// when a driven wheel is turned by hand (gearbox held).
	Differential bool
	// OneHand puts the hand's push into the longitudinal force: one hand on
	// top of the tyre instead of two hands that make a pure couple.
	OneHand bool
	// Marks puts a mark into the stream where a phase begins: "turn FL".
	Marks bool
}

// Corner is one wheel position.
type Corner struct {
	Name        string  // also the beginning of its message names: a letter, then letters, digits, _
	Axle        int     // from 1 at the front
	Right       bool    // side of the vehicle
	Driven      bool    // by the engine, with a differential to the opposite wheel
	Bus         string  // interface on which it is heard; empty: "can0"
	LoadN       float64 // static load on the ground, N
	WheelMassKg float64 // outboard of the measuring element
	OverhangM   float64 // centre of gravity of that mass, from the measuring plane, positive outward
	Tyre        string  // 225/75 R16
	Bolts       int
	AngleCounts int // encoder counts per revolution
	Serial      uint32
	Fixed       bool   // the amplifier resolves the forces with its own angle; else they are sent rotating
	Flaws       *Flaws // nil: small ones, drawn from the seed
}

// Flaws are the imperfections of a healthy corner. The zero value is perfect.
type Flaws struct {
	Zero         [6]float64 // reading without load, rotating axes: Fx Fy Fz in N, Mx My Mz in N·m
	MisalignRad  float64    // transmitted minus true angle
	Weight       float64    // relative error of the sensitivity to Fx and Fz: 0.01 reads 1 % too much
	AxesRe       float64    // half the relative difference of the sensitivities of Fx and Fz
	AxesIm       float64    // half the angle by which Fx and Fz are not square, rad
	DragNm       float64    // friction about the axle, inboard of the measuring element
	NoiseN       float64    // white, RMS, each force
	NoiseNm      float64    // white, RMS, each moment
	SlowNoiseN   float64    // correlated over SlowNoiseS, RMS, each force
	SlowNoiseS   float64    // correlation time; 0: 0.2 s
	LoadError    float64    // relative: 0.01 is 1 % more load than Corner.LoadN says
	RadiusError  float64    // relative, against the radius that follows from the tyre
	SupplyV      float64    // mean
	TemperatureC float64    // at the start
	WarmingCPerS float64
}

// OpticKind is the kind of an optical sensor, as setup files name it.
type OpticKind string

// The kinds of optical sensor.
const (
	CamberBar   OpticKind = "camber"
	GroundSpeed OpticKind = "ground_speed"
)

// Optic is an optical sensor beside a wheel or on the vehicle.
type Optic struct {
	Name       string
	Kind       OpticKind
	Corner     string  // a camber bar needs one
	Bus        string  // interface on which it is heard; empty: "can0"
	BaselineM  float64 // between outer and inner height; 0: 0.40
	ClearanceM float64 // height of the bar above ground; 0: 0.20
	CamberRad  float64 // of the wheel on the ground
}

const (
	defaultBus       = "can0"
	defaultRateHz    = 200.0
	opticPeriodNs    = 10_000_000
	statePeriodNs    = 100_000_000
	defaultRadiusM   = 0.32 // where no tyre is given
	defaultBaselineM = 0.40
	defaultClearM    = 0.20
	defaultLoadN     = 7500.0
	g                = 9.80665 // m/s², CGPM 1901
)

// withDefaults returns the configuration with every default filled in, on
// copies of its slices, or all that is wrong with it.
func (c Config) withDefaults() (Config, error) {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf("simulated: "+format, args...)) }
	if c.Name == "" {
		c.Name = "Simulated vehicle"
	}
	if c.Start == 0 {
		c.Start = DefaultStart
	}
	if c.RateHz == 0 {
		c.RateHz = defaultRateHz
	}
	if !(c.RateHz >= 1 && c.RateHz <= 10_000) {
		bad("rate %v Hz: want 1 to 10000", c.RateHz)
	}
	if !(c.JitterS >= 0 && c.JitterS <= 0.1) {
		bad("jitter %v s: want 0 to 0.1", c.JitterS)
	}
	if len(c.Corners) == 0 {
		bad("no corner: start from Standard(4)")
	}
	c.Corners = slices.Clone(c.Corners)
	for i := range c.Corners {
		k := &c.Corners[i]
		if !identifier(k.Name) {
			bad("corner %q: its name begins the names of its messages, want a letter, then letters, digits or _", k.Name)
		}
		if at := c.corner(k.Name); at != i {
			bad("corner %q: given twice", k.Name)
		}
		k.setDefaults()
		if !(k.LoadN > 0 && k.WheelMassKg > 0) || math.IsInf(k.LoadN+k.WheelMassKg, 0) {
			bad("corner %s: load %v N, wheel mass %v kg: want more than 0", k.Name, k.LoadN, k.WheelMassKg)
		}
		if k.AngleCounts < 2 || k.AngleCounts > 65536 {
			bad("corner %s: %d counts per revolution: want 2 to 65536", k.Name, k.AngleCounts)
		}
		if _, err := tyreRadiusM(k.Tyre); err != nil {
			bad("corner %s: %w", k.Name, err)
		}
	}
	c.Optics = slices.Clone(c.Optics)
	for i := range c.Optics {
		o := &c.Optics[i]
		o.setDefaults()
		if at := c.optic(o.Name); o.Name == "" || at != i {
			bad("optic %q: want a name that no other has", o.Name)
		}
		if o.Kind != CamberBar && o.Kind != GroundSpeed {
			bad("optic %q: kind %q: want %s or %s", o.Name, o.Kind, CamberBar, GroundSpeed)
		}
		if c.corner(o.Corner) < 0 && (o.Kind == CamberBar || o.Corner != "") {
			bad("optic %q: no corner %q", o.Name, o.Corner)
		}
	}
	for _, name := range c.TurnOrder {
		if c.corner(name) < 0 {
			bad("turn order: no corner %q", name)
		}
	}
	if len(errs) > 0 {
		return Config{}, errors.Join(errs...)
	}
	if c.Script == nil {
		c.Script = c.Function()
	}
	return c, nil
}

func (k *Corner) setDefaults() {
	if k.Bus == "" {
		k.Bus = defaultBus
	}
	if k.LoadN == 0 {
		k.LoadN = defaultLoadN
	}
	if k.WheelMassKg == 0 {
		k.WheelMassKg = 34
	}
	if k.AngleCounts == 0 {
		k.AngleCounts = 2048
	}
	if k.Bolts == 0 {
		k.Bolts = 5
	}
	if k.Axle == 0 {
		k.Axle = 1
	}
}

func (o *Optic) setDefaults() {
	if o.Bus == "" {
		o.Bus = defaultBus
	}
	if o.BaselineM == 0 {
		o.BaselineM = defaultBaselineM
	}
	if o.ClearanceM == 0 {
		o.ClearanceM = defaultClearM
	}
}

// corner returns the index of the first corner of that name, -1 for none.
func (c *Config) corner(name string) int {
	return slices.IndexFunc(c.Corners, func(k Corner) bool { return k.Name == name })
}

func (c *Config) optic(name string) int {
	return slices.IndexFunc(c.Optics, func(o Optic) bool { return o.Name == name })
}

// turnOrder returns the names of the corners in the order of turning.
func (c *Config) turnOrder() []string {
	if len(c.TurnOrder) > 0 {
		return c.TurnOrder
	}
	var names []string
	for _, k := range c.Corners {
		names = append(names, k.Name)
	}
	return names
}

// buses returns the interfaces in the order in which corners and optics name them.
func (c *Config) buses() []string {
	var names []string
	add := func(name string) {
		if name == "" {
			name = defaultBus
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	for _, k := range c.Corners {
		add(k.Bus)
	}
	for _, o := range c.Optics {
		add(o.Bus)
	}
	return names
}

func identifier(s string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return false
		}
	}
	return s != "" && len(s) <= 24
}

// tyreRadiusM returns the rolling radius of a tyre designation such as
// 225/75 R16: outer diameter after UN Regulation No. 30, 3.05 of it rolled per
// turn (ETRTO, radial passenger tyres; from memory).
func tyreRadiusM(tyre string) (float64, error) {
	if tyre == "" {
		return defaultRadiusM, nil
	}
	var widthMm, aspect, rimInch float64
	if n, err := fmt.Sscanf(tyre, "%f/%f R%f", &widthMm, &aspect, &rimInch); n != 3 || err != nil || widthMm <= 0 || aspect <= 0 || rimInch <= 0 {
		return 0, fmt.Errorf("tyre %q: want a designation like 225/75 R16", tyre)
	}
	outerM := (25.4*rimInch + 2*widthMm*aspect/100) / 1000
	return 3.05 * outerM / (2 * math.Pi), nil
}
