package web

import (
	"maps"
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
	snapshot  *daemon.Snapshot
	state     state
	since     time.Time     // when the snapshot became the newest
	result    daemon.Result // with what persons have confirmed
	steps     []step
	confirmed map[string]Confirmed
	cache     cache
	next      chan struct{}
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
		if snapshot != nil && snapshot.Result.Setup.SHA256 != s.guide.setup { // what was confirmed was so of another vehicle
			clear(s.confirmed)
			clear(s.skipped)
		}
		s.guide.see(snapshot)
	}
	old := s.moment.Load()
	st := s.stateOf(snapshot, now)
	if !news && st == old.state {
		return old
	}
	m := &moment{snapshot: snapshot, state: st, since: s.since, next: make(chan struct{}), confirmed: map[string]Confirmed{}}
	maps.Copy(m.confirmed, s.confirmed)
	if snapshot != nil {
		m.result = s.withConfirmed(snapshot.Result)
		m.steps = s.guide.steps(snapshot, m.confirmed, s.skipped)
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
	if now.Sub(s.since) > staleAfter {
		return stale
	}
	return live
}

// withConfirmed returns r with what persons have confirmed.
func (s *Server) withConfirmed(r daemon.Result) daemon.Result {
	list := append([]daemon.Confirmation{}, r.Confirmations...)
	for i := range list {
		if c, ok := s.confirmed[list[i].ID]; ok {
			list[i].State = c.state()
		}
	}
	r.Confirmations = list
	return r
}
