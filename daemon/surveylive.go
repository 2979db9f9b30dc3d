package daemon

import (
	"context"
	"time"

	"plumbline/bus"
	"plumbline/bus/dbc"
	"plumbline/bus/socketcan"
)

const (
	showEvery = 250 * time.Millisecond // between two looks at a live survey
	paceEvery = time.Second            // over which the rate of late is counted
	maxLinks  = 50                     // changes of links that are kept; a loose plug makes any number
)

// LookConfig is a first look at a source that never ends by itself. File and
// Source are required.
type LookConfig struct {
	File   string
	Source bus.Source // LookLive closes it
	DBC    []*dbc.File

	// CAN, if set, returns what the kernel knows of CAN interfaces, which are
	// told from others by name.
	CAN func() []socketcan.Info

	// Show, if set, is handed what is known about four times a second, whether
	// something arrives or not. The survey is valid until Show returns. While
	// Show takes its time the source is read on, up to the bound of Live.
	Show func(*Survey)
}

// LookLive takes a first look at a live source until ctx is done, whose error it
// returns with what was heard, or until the source ends.
func LookLive(ctx context.Context, c LookConfig) (*Survey, error) {
	l := look{survey: &Survey{File: c.File, Live: true}, messages: map[lookKey]*lookMessage{}}
	l.decoder(c.DBC)
	began := time.Now()
	shown, paced := began, began
	err := pump(ctx, NewLive([]bus.Source{c.Source}), nil, func(d *delivered) error {
		if err := l.batch(d); err != nil {
			return err
		}
		now := time.Now()
		if elapsed := now.Sub(paced); elapsed >= paceEvery {
			paced = now
			l.pace(elapsed)
		}
		if c.Show != nil && now.Sub(shown) >= showEvery {
			shown = now
			l.controllers(c.CAN)
			c.Show(l.state())
		}
		return nil
	})
	l.controllers(c.CAN)
	return l.state(), err
}

// link takes a new state of an interface.
func (l *look) link(n *bus.Note, face *SurveyInterface) {
	s := l.survey
	face.State = n.Text
	if len(s.Links) == maxLinks {
		s.Links = append(s.Links[:0], s.Links[1:]...)
		s.Earlier++
	}
	s.Links = append(s.Links, SurveyLink{Instant(n.At), int(n.Source), n.Link, n.Text})
}

// pace computes the rates of late.
func (l *look) pace(elapsed time.Duration) {
	for _, m := range l.messages {
		m.Now = float64(m.Frames-m.paced) / elapsed.Seconds()
		m.paced = m.Frames
	}
}

// controllers takes what the kernel knows now.
func (l *look) controllers(ask func() []socketcan.Info) {
	if ask == nil {
		return
	}
	for _, info := range ask() {
		for i := range l.survey.Interfaces {
			if l.survey.Interfaces[i].Name == info.Name {
				l.survey.Interfaces[i].CAN = &info
			}
		}
	}
}
