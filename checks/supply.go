package checks

// supply: did the supply voltage of each corner's electronics stay within its limits? The lowest and
// the highest value count; a dip is told with its time.
func supply(v *view) []Finding {
	out := make([]Finding, 0, len(v.corners))
	for i := range v.corners {
		name := v.corners[i].setup.Name
		out = append(out, v.withinLimits(
			i, Supply, "the supply",
			"Look at the battery, the fuse and the supply cable of "+name+" and their plugs; measure its voltage while the amplifier runs.",
			"Look at the power supply of "+name+" and at the charger on the vehicle; compare the factor of the channel with the amplifier.",
		))
	}
	return out
}
