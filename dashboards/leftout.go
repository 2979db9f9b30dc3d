package dashboards

// leftOut are metrics that no board and no rule asks for, by a pattern that matches their whole names.
type leftOut struct{ Pattern, Why string }

func leftOuts() []leftOut {
	return []leftOut{
		{`plumbline_channel_(mean|minimum|maximum|deviation)_(newtons|newton_meters)`, "of channels as they are sent: rotating ones go round with the wheel. The boards show forces in wheel axes instead"},
		{`plumbline_channel_(minimum|maximum)_(radians_per_second|radians|meters_per_second|celsius|meters)`, "the mean of a second shows what these sensors do; the extremes are for who looks for one spike"},
		{`plumbline_channel_noise_newtons`, "as the extremes above: the noise in wheel axes is shown instead"},
		{`plumbline_channel_maximum_volts`, "a supply is in danger of falling, not of rising; its check minds both"},
		{`plumbline_channel_mean_(radians_per_second|celsius|volts|meters)`, "the newest value of the corner is on the boards; heights are judged by clearance and camber"},
		{`plumbline_corner_rest_noise_uncertainty_(newtons|newton_meters)`, "judged with it; noise needs no second decimal"},
		{`plumbline_corner_(load|rolling_radius|agreement)_uncertainty_(newtons|meters|ratio)`, "judged with it; a bar shows the value"},
		{`plumbline_corner_drift_uncertainty_(ratio|celsius)`, "judged with it; the limit is far beyond it"},
		{`plumbline_limit_(meters_per_second|per_second|periods)`, "of checks whose value is not drawn over time"},
	}
}
