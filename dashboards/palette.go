package dashboards

// Colours that people with a colour vision deficiency tell apart, after Okabe and Ito, "Color Universal Design" (2002).
// A state never has a colour alone: its word and a sign stand with it.
const (
	blue      = "#0072B2"
	orange    = "#E69F00"
	green     = "#009E73"
	purple    = "#CC79A7"
	sky       = "#56B4E9"
	vermilion = "#D55E00"
	yellow    = "#F0E442"
	grey      = "#999999"
	dark      = "#555555"
)

// state is what a number means where it is not a quantity.
type state struct {
	value        int
	word, colour string
}

// verdictStates are the values that [verdictOf] makes.
func verdictStates() []state {
	return []state{{0, "– not fitted", dark}, {1, "✓ pass", green}, {2, "… open", yellow}, {3, "✗ FAIL", vermilion}}
}

func hangStates() []state {
	return []state{{0, "? unknown", dark}, {1, "▲ lifted", sky}, {2, "▼ on the ground", blue}}
}

func turningStates() []state { return []state{{0, "– still", dark}, {1, "↻ turning", sky}} }

func drivingStates() []state { return []state{{0, "– stands", dark}, {1, "► driving", sky}} }

func upStates() []state { return []state{{0, "✗ not heard", vermilion}, {1, "✓ heard", green}} }

func activeStates() []state { return []state{{1, "✗ found", vermilion}} }

func linkStates() []state {
	return []state{
		{0, "? unknown", dark},
		{1, "✓ active", green},
		{2, "… silent", yellow},
		{3, "! warning", yellow},
		{4, "✗ passive", vermilion},
		{5, "✗ bus off", vermilion},
		{6, "✗ down", vermilion},
		{7, "✗ absent", vermilion},
		{8, "✗ no valid frame", vermilion},
	}
}

func recordingStates() []state {
	return []state{{0, "– not asked for", dark}, {1, "● recording", green}, {2, "… waiting", yellow}, {3, "■ closed", grey}, {4, "✗ STOPPED", vermilion}}
}

// cornerColours are those of the corners with usual names; left ones are drawn solid, right ones dashed.
func cornerColours() [][2]string {
	return [][2]string{{"FL", blue}, {"FR", orange}, {"ML", sky}, {"MR", dark}, {"RL", green}, {"RR", purple}}
}
