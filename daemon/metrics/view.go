package metrics

import (
	"math"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// staleNs is how long a newest value is shown after it has come, ns of event time, where three periods of its
// message are not longer.
const staleNs = int64(5e9)

// view is one snapshot made ready to be read. Where there is none, all of it is empty.
type view struct {
	program  *program
	snapshot *daemon.Snapshot
	setup    checks.Setup
	sources  []setup.Source
	now      checks.Now
	findings []daemon.Finding // each check known in advance is among them
	balances []*record.Balance
}

func newView(p *program, s *daemon.Snapshot, k *known) view {
	v := view{program: p, snapshot: s, now: s.Now, findings: s.Result.Findings}
	if s.Setup == nil {
		return v
	}
	v.setup, v.sources = s.Setup.Checks, s.Setup.Sources
	v.findings = k.complete(v.findings)
	if s.Recording == nil {
		return v
	}
	v.balances = make([]*record.Balance, len(v.sources))
	for i := range v.sources {
		var heardAs string // the recorder knows a source by the name that its reader gives it
		switch v.sources[i].Kind {
		case setup.CAN:
			heardAs = v.sources[i].Interface
		case setup.Serial:
			heardAs = v.sources[i].Match
		}
		for b := range s.Recording.Sources {
			if s.Recording.Sources[b].Source == heardAs {
				v.balances[i] = &s.Recording.Sources[b]
			}
		}
	}
	return v
}

// recording returns how the recorder stands; nil: there is none.
func (v *view) recording() *record.Stats {
	if v.snapshot == nil {
		return nil
	}
	return v.snapshot.Recording
}

// balance returns the balance of a source; nil: nothing is recorded of it.
func (v *view) balance(source int) *record.Balance {
	if source < len(v.balances) {
		return v.balances[source]
	}
	return nil
}

// newest returns the newest value of a channel; NaN: none, or none for too long.
func (v *view) newest(channel int32) float64 {
	if channel == checks.None || int(channel) >= len(v.now.Channels) {
		return math.NaN()
	}
	c := &v.now.Channels[channel]
	if !c.Known || !v.fresh(c.At, c.RateHz) {
		return math.NaN()
	}
	return c.Value
}

// fresh tells whether what came at the time at, ns, still stands.
func (v *view) fresh(at int64, rateHz float64) bool {
	age := staleNs
	if rateHz > 0 {
		age = max(age, int64(math.Min(3e9/rateHz, 1e18)))
	}
	return v.now.At-at <= age
}

// seconds turns event time, ns, to s; NaN: not known.
func seconds(at int64) float64 {
	if at == 0 {
		return math.NaN()
	}
	return float64(at) / 1e9
}

// known are the findings that there are before anything was heard.
type known struct {
	of       *setup.Setup
	findings []daemon.Finding
}

// learn takes in a setup that is new, which costs some milliseconds once; a daemon reads its setup
// seldom.
func (k *known) learn(s *setup.Setup) {
	if k.of == s {
		return
	}
	k.of, k.findings = s, nil
	for _, f := range checks.New(s.Checks).Result().Findings {
		k.findings = append(k.findings, daemon.Finding{Check: f.Check, Subject: f.Subject, Channel: f.Channel, Verdict: f.Verdict, Required: f.Required})
	}
}

// complete returns findings with those that are missing from them, undecided, at its end.
func (k *known) complete(findings []daemon.Finding) []daemon.Finding {
	all := len(findings) >= len(k.findings)
	for i := 0; all && i < len(k.findings); i++ {
		all = same(&findings[i], &k.findings[i])
	}
	if all {
		return findings
	}
	type name struct{ check, subject, channel string }
	have := make(map[name]bool, len(findings))
	for i := range findings {
		f := &findings[i]
		have[name{f.Check, f.Subject, f.Channel}] = true
	}
	out := append([]daemon.Finding(nil), findings...)
	for _, f := range k.findings {
		if !have[name{f.Check, f.Subject, f.Channel}] {
			out = append(out, f)
		}
	}
	return out
}

func same(a, b *daemon.Finding) bool {
	return a.Check == b.Check && a.Subject == b.Subject && a.Channel == b.Channel
}
