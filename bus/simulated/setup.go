package simulated

import (
	"fmt"
	"strings"
)

// SetupYAML returns a setup file for the vehicle as it should be: faults are
// not in it. Its DBC files are those of DBCs, in the same folder. Empty for a
// configuration that New refuses.
func (c Config) SetupYAML() string {
	full, err := c.withDefaults()
	if err != nil {
		return ""
	}
	var b strings.Builder
	put := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	put("# An invented vehicle with invented loads: the simulation's own setup.\nvehicle: %q\n", full.Name)
	if full.MassKg > 0 {
		put("mass_kg: %v\n", full.MassKg)
	}
	put("\nsources:\n")
	for _, f := range full.DBCs() {
		name := f.Bus
		if len(full.buses()) == 1 {
			name = "wheels"
		}
		put("  - {name: %s, can: %s, dbc: [%s]}\n", name, f.Bus, f.Name)
	}
	put("%s", `
defaults:
  forces: rotating
  channels:
    fx: "{corner}_Forces.Fx"
    fy: "{corner}_Forces.Fy"
    fz: "{corner}_Forces.Fz"
    mx: "{corner}_Moments.Mx"
    my: "{corner}_Moments.My"
    mz: "{corner}_Moments.Mz"
    angle: "{corner}_Angle.Theta"
    spin: "{corner}_Angle.Speed"
    temperature: "{corner}_State.Temp"
    supply: "{corner}_State.Volt"
    status: "{corner}_Angle.Status"
    serial: "{corner}_State.Serial"
    counter: "{corner}_Forces.Counter"

corners:
`)
	for _, k := range full.Corners {
		side := "left"
		if k.Right {
			side = "right"
		}
		put("  - {name: %s, axle: %d, side: %s, load_n: %v, serial: %d, wheel_mass_kg: %v, overhang_m: %v,\n     bolts: %d, angle_counts: %d",
			k.Name, k.Axle, side, k.LoadN, k.Serial, k.WheelMassKg, k.OverhangM, k.Bolts, k.AngleCounts)
		if k.Tyre != "" {
			put(", tyre: %q", k.Tyre)
		}
		if k.Fixed {
			put(", forces: fixed")
		}
		put("}\n")
	}
	if len(full.Optics) > 0 {
		put("\noptics:\n")
	}
	for i, o := range full.Optics {
		m := full.opticMessage(i)
		put("  - {name: %q, kind: %s", o.Name, o.Kind)
		if o.Corner != "" {
			put(", corner: %s", o.Corner)
		}
		if o.Kind == CamberBar {
			put(", baseline_m: %v, clearance_m: %v, clearance_tolerance_m: 0.03,\n     channels: {height_outer: %s.Outer, height_inner: %[3]s.Inner, camber: %[3]s.Angle}}\n", o.BaselineM, o.ClearanceM, m)
		} else {
			put(",\n     channels: {speed_x: %s.Vx, speed_y: %[1]s.Vy, slip: %[1]s.Slip}}\n", m)
		}
	}
	put("\nturn_order: [%s]\n", strings.Join(full.turnOrder(), ", "))
	put("%s", `
confirm:
  - {id: wheel-bolts, text: "Wheel bolts tightened in sequence with a torque wrench", value: {unit: N·m, min: 150, max: 170}}
  - {id: adapter-bolts, text: "Adapter bolts tightened to the figure on the adapter"}
  - {id: cable, text: "Cable arm fixed at the hub and at both body anchors, second line fitted"}
  - {id: clearance, text: "Nothing touches when steered from lock to lock and at full suspension travel"}
`)
	return b.String()
}
