package web

import (
	"strconv"

	"plumbline/daemon/record"
)

// tapeView says that what is heard is not recorded, or that something is missing. The zero value has nothing to say.
type tapeView struct {
	State string // class: fail while it is not recorded, open where it is again and has a gap; empty: all is well
	Word  string
	Text  string // what to do about it
	Why   string // what the disk says, English
	Until string // what is so until then
	Lost  string // how much is missing
}

// tape is what there is to say of the recording.
func (c *composer) tape() tapeView {
	if c.m.snapshot == nil || c.m.snapshot.Recording == nil {
		return tapeView{}
	}
	s := c.m.snapshot.Recording
	var out tapeView
	if s.Lost > 0 {
		out.State, out.Word, out.Text = "open", c.t("tape.gap"), c.t("tape.gap.how")
		out.Lost = c.t("tape.lost", strconv.FormatUint(s.Lost, 10))
	}
	switch {
	case !c.unrecorded():
		return out
	case s.Full:
		out.Text = c.t("tape.full", s.Dir)
	default:
		out.Text, out.Why = c.t("tape.fault", s.Dir), s.Why
	}
	out.State, out.Word, out.Until = "fail", c.t("tape.stopped"), c.t("tape.until")
	if !s.Since.IsZero() {
		out.Word = c.t("tape.since", s.Since.Format("15:04"))
	}
	return out
}

// unrecorded reports whether what is heard now should be recorded and is not.
func (c *composer) unrecorded() bool {
	if c.m.snapshot == nil || c.m.snapshot.Recording == nil {
		return false
	}
	state := c.m.snapshot.Recording.State
	return state == record.Stopped || state == record.Closed && c.m.state == live
}
