package checks

// temperature: did the electronics of each corner stay within their limits?
func temperature(v *view) []Finding {
	out := make([]Finding, 0, len(v.corners))
	for i := range v.corners {
		name := v.corners[i].setup.Name
		out = append(out, v.withinLimits(
			i, Temperature, "the temperature",
			"Look at the temperature sensor and its channel of "+name+"; let the electronics warm up before they are used.",
			"Switch "+name+" off and let it cool; look for a brake that drags, and for the temperature sensor and its factor.",
		))
	}
	return out
}
