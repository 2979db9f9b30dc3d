package daemon

// The states of a confirmation.
const (
	StateOpen        = "open"         // no person has given it, or what was read off lies out of range
	StateConfirmed   = "confirmed"    // within its range, where it has one
	StateNotPossible = "not possible" // Reason says why
)

// Confirmation is what no signal can show and a person confirms. Value to Reason are empty
// until somebody has said something.
type Confirmation struct {
	ID       string   `json:"id"`
	Text     string   `json:"text"`
	Unit     string   `json:"unit"`
	Min      *float64 `json:"min,omitempty"`
	Max      *float64 `json:"max,omitempty"`
	State    string   `json:"state"`
	Value    *float64 `json:"value,omitempty"` // in Unit, as it was read off
	Initials string   `json:"initials,omitempty"`
	At       Instant  `json:"at,omitzero"`
	Reason   string   `json:"reason,omitempty"` // why it was not possible
}

// Asked reports whether a value is to be read off.
func (c *Confirmation) Asked() bool { return c.Min != nil || c.Max != nil }

// Outside reports whether a value was read off that lies out of the range, both ends of which are in it.
func (c *Confirmation) Outside() bool {
	return c.Value != nil && (c.Min != nil && *c.Value < *c.Min || c.Max != nil && *c.Value > *c.Max)
}

// take puts what a person said into a confirmation. A value out of range confirms nothing: it is
// kept as what it is, and the confirmation stays open.
func (c *Confirmation) take(s *Statement) {
	c.Value, c.Initials, c.At, c.Reason = s.Value, s.Initials, s.At, s.Reason
	switch {
	case s.Reason != "":
		c.State, c.Value = StateNotPossible, nil
	case c.Outside() || c.Asked() && c.Value == nil:
		c.State = StateOpen
	default:
		c.State = StateConfirmed
	}
}

// Deviation is a step of the function test that was gone on without.
type Deviation struct {
	Step     string  `json:"step"` // as in "turn/FL"
	Text     string  `json:"text,omitempty"`
	Reason   string  `json:"reason"`
	Initials string  `json:"initials,omitempty"`
	At       Instant `json:"at,omitzero"`
}

// Statement is what a person said of a confirmation.
type Statement struct {
	ID       string   `json:"id"`
	Value    *float64 `json:"value,omitempty"` // in the unit of the confirmation
	Initials string   `json:"initials"`
	Reason   string   `json:"reason,omitempty"` // why it was not possible; empty: it is confirmed
	At       Instant  `json:"at"`
}
