package web

import (
	"math"

	"plumbline/checks"
	"plumbline/daemon"
)

// quietAfter is how long a value counts where its message has stopped, ns.
const quietAfter = int64(2e9)

// cornerView is what the page of one corner shows.
type cornerView struct {
	Name     string
	Mark     mark
	Hang     string
	Next     string
	Groups   []groupMark
	Forward  *progress
	Back     *progress
	Channels []channelView
	Zero     []zeroView
	Plot     plot
	Failed   []findingView
	Open     []openView
	Passed   []findingView
	Rest     []findingView
}

// channelView is one channel as it is now.
type channelView struct {
	Label, Value, Unit string
	Range, Rate, Noise string
	Quiet              string // for how long nothing has come; empty: it comes
}

// zeroView is the zero of one component.
type zeroView struct {
	Label, Value, Limit string
	Tare                string // what the amplifier is to be tared by: the negative of the zero; empty: not known yet
	Mark                mark
	Sentence            string
	At                  string // of the value in a drawing from −100 to 100, the limit at ±60; empty: no value
	From, Width         string // of value ± U in the same drawing
}

func (c *composer) corner(i int) cornerView {
	k := &c.m.snapshot.Setup.Checks.Corners[i]
	now := &c.m.snapshot.Now.Corners[i]
	v := cornerView{
		Name: k.Name, Mark: c.cornerState(i), Hang: c.hang(now.Hang),
		Forward: c.turns(now.Forward), Back: c.turns(now.Back), Plot: c.plot(now, k),
	}
	for _, g := range []checks.Group{checks.Connection, checks.ZeroGroup, checks.AngleGroup, checks.SignalGroup, checks.Ground} {
		v.Groups = append(v.Groups, groupMark{c.t("group." + string(g)), c.cornerState(i, g)})
	}
	c.subject(&v, &k.Channels)
	return v
}

// optic is the page of an optical sensor: as that of a corner, without what turns.
func (c *composer) optic(o *checks.Optic) cornerView {
	v := cornerView{Name: o.Name, Mark: c.state(o.Name)}
	c.subject(&v, &o.Channels)
	return v
}

// subject adds the channels of a corner or an optical sensor and what was found of it.
func (c *composer) subject(v *cornerView, channels *checks.Channels) {
	for q, ch := range channels {
		if ch != checks.None {
			v.Channels = append(v.Channels, c.channel(checks.Quantity(q), &c.m.snapshot.Now.Channels[ch]))
		}
	}
	mine := func(f *daemon.Finding) bool { return f.Subject == v.Name }
	v.Open = c.open(mine).Open
	for j := range c.m.result.Findings {
		f := &c.m.result.Findings[j]
		if !mine(f) {
			continue
		}
		if f.Check == "zero" {
			v.Zero = append(v.Zero, c.zero(f))
		}
		switch {
		case f.Verdict == checks.Fail:
			v.Failed = append(v.Failed, c.finding(f))
		case f.Verdict == checks.Pass:
			v.Passed = append(v.Passed, c.finding(f))
		case !f.Required:
			v.Rest = append(v.Rest, c.finding(f))
		}
	}
}

// channel is one channel as it is now. Where its message has stopped the value is not shown.
func (c *composer) channel(q checks.Quantity, s *checks.ChannelState) channelView {
	u := readable(unitOf(q))
	v := channelView{Label: c.t("quantity." + q.String()), Unit: u.name}
	if !s.Known {
		v.Quiet = c.t("never")
		return v
	}
	show := func(x float64) string { return decimals(c.lang, x*u.factor, u.places) }
	v.Range = show(s.Low) + " … " + show(s.High)
	if s.RateHz > 0 {
		v.Rate = decimals(c.lang, s.RateHz, 0) + " Hz"
	}
	if age := c.m.snapshot.Now.At - s.At; age > quietAfter {
		v.Quiet = c.t("quiet", decimals(c.lang, float64(age)*1e-9, 0))
		return v
	}
	v.Value = show(s.Value)
	if q != checks.Angle && drawn(q) {
		v.Noise = noise(c.lang, &s.Ten, u)
	}
	return v
}

// unitOf is the SI unit of a quantity.
func unitOf(q checks.Quantity) string {
	switch q {
	case checks.Fx, checks.Fy, checks.Fz:
		return "N"
	case checks.Mx, checks.My, checks.Mz:
		return "N·m"
	case checks.Angle, checks.Camber, checks.Slip:
		return "rad"
	case checks.Spin:
		return "rad/s"
	case checks.Temperature:
		return "°C"
	case checks.Supply:
		return "V"
	case checks.HeightOuter, checks.HeightInner, checks.HeightThird:
		return "m"
	case checks.SpeedX, checks.SpeedY:
		return "m/s"
	case checks.Status, checks.Serial, checks.Counter, checks.Quantities:
	}
	return "count"
}

// zero is the zero of one component, its limit drawn at ±60.
func (c *composer) zero(f *daemon.Finding) zeroView {
	v := zeroView{
		Label: c.t("quantity." + f.Channel), Mark: c.verdict(f.Verdict), Sentence: f.Sentence,
		Value: measured(c.lang, f.Value, f.Uncertainty, f.Unit), Limit: bound(c.lang, f.Limit, f.Unit),
	}
	if f.Value == nil {
		return v
	}
	tare := -*f.Value
	v.Tare = measured(c.lang, &tare, f.Uncertainty, f.Unit)
	if f.Uncertainty == nil {
		v.Tare = "" // one turn does not tell a zero well enough to act on it
	}
	if f.Limit == nil || *f.Limit <= 0 {
		return v
	}
	place := func(x float64) float64 { return math.Max(-97, math.Min(97, 60*x / *f.Limit)) }
	v.At = coordinate(place(*f.Value))
	if f.Uncertainty != nil {
		from, to := place(*f.Value-*f.Uncertainty), place(*f.Value+*f.Uncertainty)
		v.From, v.Width = coordinate(from), coordinate(math.Max(to-from, 0.5))
	}
	return v
}
