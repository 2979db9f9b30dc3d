package web

import (
	"time"

	"plumbline/daemon"
)

// state says what the newest snapshot is worth.
type state string

const (
	nothing state = "none"  // there is none, or nothing has been heard
	live    state = "live"  // it is new
	stale   state = "stale" // the next one is overdue
	ended   state = "ended" // there will be no other
)

// moment is all that pages show, as it was at one time. Nobody changes it; next is closed when a newer
// one has taken its place.
type moment struct {
	snapshot *daemon.Snapshot
	state    state
	since    time.Time     // when the snapshot became the newest
	result   daemon.Result // with what persons have said
	said     daemon.Said
	trouble  string // why what is said would not survive a restart
	steps    []step
	cache    cache
	next     chan struct{}
}

// refresh looks for news and returns the newest moment.
func (s *Server) refresh() *moment {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.look(false)
}

// look makes a new moment where there is news, or where it is told so. s.mu is held.
func (s *Server) look(news bool) *moment {
	now := s.now()
	snapshot := s.cfg.Snapshot()
	if snapshot != s.last {
		s.last, s.since, news = snapshot, now, true
		if snapshot != nil {
			s.cfg.Test.Use(snapshot.Result.Setup.SHA256) // what was confirmed was so of another vehicle
		}
		s.guide.see(snapshot)
	}
	said := s.cfg.Test.Said()
	if s.guide.token != said.Token { // another test: what was done with the vehicle was done in the one before
		s.guide = guide{token: said.Token}
		s.guide.see(snapshot)
		news = true
	}
	old := s.moment.Load()
	st := s.stateOf(snapshot, now)
	if !news && st == old.state {
		return old
	}
	m := &moment{snapshot: snapshot, state: st, since: s.since, next: make(chan struct{}), said: said, trouble: s.cfg.Test.Trouble()}
	if snapshot != nil {
		m.result = snapshot.Result
		said.Apply(&m.result)
		m.steps = s.guide.steps(snapshot, &m.result, &said)
	}
	s.moment.Store(m)
	close(old.next)
	return m
}

func (s *Server) stateOf(snapshot *daemon.Snapshot, now time.Time) state {
	if snapshot == nil || snapshot.At == 0 {
		return nothing
	}
	select {
	case <-s.cfg.Finished: // a nil channel is never ready
		return ended
	default:
	}
	if snapshot.Ended {
		return ended
	}
	if now.Sub(s.since) > staleAfter {
		return stale
	}
	return live
}
