package setup

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/bus/dbc"
	"plumbline/checks"
)

// signalKey is one signal as it is heard on one source.
type signalKey struct {
	source  int
	message *dbc.Message
	signal  int
}

// messageKey is one message as it is heard on one source.
type messageKey struct {
	source  int
	message *dbc.Message
}

// user is the channel that uses a signal.
type user struct {
	quantity checks.Quantity
	owner    string
	at       place
}

// wantedChannel is a channel as the file asks for it.
type wantedChannel struct {
	quantity checks.Quantity
	owner    string // corner or optic
	corner   string // replaces {corner}; empty: there is none
	word     channelWord
	node     *node // of the channel, perhaps among the defaults
}

// at returns the place of a key of the channel.
func (w *wantedChannel) at(key string) place { return w.node.at(key) }

// siUnit returns the SI unit of a quantity, and whether it needs one: status,
// serial numbers and counters are numbers, whatever unit the DBC file gives.
func siUnit(q checks.Quantity) (string, bool) {
	switch q {
	case checks.Fx, checks.Fy, checks.Fz:
		return "N", true
	case checks.Mx, checks.My, checks.Mz:
		return "N·m", true
	case checks.Angle, checks.Camber, checks.Slip:
		return "rad", true
	case checks.Spin:
		return "rad/s", true
	case checks.Temperature:
		return "°C", true
	case checks.Supply:
		return "V", true
	case checks.HeightOuter, checks.HeightInner, checks.HeightThird:
		return "m", true
	case checks.SpeedX, checks.SpeedY:
		return "m/s", true
	case checks.Status, checks.Serial, checks.Counter, checks.Quantities:
	}
	return "", false
}

// channel finds the signal of a channel and adds both. It returns the dense
// index, or checks.None after a fault.
func (l *loader) channel(w *wantedChannel) int32 {
	key, ok := l.find(w)
	if !ok {
		return checks.None
	}
	signal := &key.message.Signals[key.signal]
	name := key.message.Name + "." + signal.Name
	if other, taken := l.channels[key]; taken {
		hint := "one signal is one channel, correct one of them"
		if other.at == w.at("signal") {
			hint = "write {corner} in its place in the text, so that each corner has its own"
		}
		l.faults.addOf(w.at("signal"), w.owner, "%s of %s reads %s, and so does %s of %s in line %d: %s",
			w.quantity, w.owner, name, other.quantity, other.owner, other.at.line, hint)
		return checks.None
	}
	l.channels[key] = user{w.quantity, w.owner, w.at("signal")}

	scale, offset, ok := l.conversion(w, signal, name)
	good, goodOK := l.good(w, signal, name)
	if !ok || !goodOK {
		return checks.None
	}
	index := int32(len(l.out.Bindings))
	binding := dbc.Binding{
		Source: uint16(key.source), Message: key.message, Signal: key.signal, Channel: index,
		Scale: scale, Offset: offset, PGN: l.out.Sources[key.source].PGN,
	}
	channel := checks.Channel{Name: name, Quantity: w.quantity, Message: l.message(messageKey{key.source, key.message}), Good: good}
	channel.Step = abs(scale) * signal.Step()
	if low, high, ends := signal.Ends(); ends {
		channel.Low, channel.High = scale*low+offset, scale*high+offset
	}
	if signal.Min < signal.Max {
		channel.Min, channel.Max = scale*signal.Min+offset, scale*signal.Max+offset
		if scale < 0 {
			channel.Min, channel.Max = channel.Max, channel.Min
		}
	}
	channel.Named = named(w.quantity, signal, scale, offset)
	l.out.Bindings = append(l.out.Bindings, binding)
	l.out.Checks.Channels = append(l.out.Checks.Channels, channel)
	return index
}

// named returns the values that the DBC file names as no value, as the channel delivers
// them; of a status all that it names.
func named(q checks.Quantity, signal *dbc.Signal, scale, offset float64) []checks.NamedValue {
	var out []checks.NamedValue
	for _, v := range signal.Values {
		if q == checks.Status || meansNoValue(v.Text) {
			out = append(out, checks.NamedValue{Value: scale*(float64(v.Raw)*signal.Scale+signal.Offset) + offset, Text: v.Text})
		}
	}
	return out
}

// meansNoValue tells whether a text of a value table says that there is no value. The
// words are common practice; SNA is "signal not available".
func meansNoValue(text string) bool {
	text = strings.ToLower(strings.NewReplacer("_", " ", "-", " ").Replace(text))
	if slices.Contains([]string{"sna", "na", "n/a", "nan", "err"}, text) {
		return true
	}
	if strings.HasPrefix(text, "no error") || strings.HasPrefix(text, "no fault") {
		return false
	}
	for _, part := range []string{"not available", "notavailable", "unavailable", "not valid", "invalid", "error", "fault", "no signal", "not connected", "sensor defect"} {
		if strings.Contains(text, part) {
			return true
		}
	}
	return false
}

func abs(v float64) float64 { return max(v, -v) }

// message returns the dense index of a message; messages are numbered as the
// channels name them first.
func (l *loader) message(key messageKey) int {
	if i, ok := l.messages[key]; ok {
		return i
	}
	period, ok := l.known[key.source].periods[key.message.Name]
	if !ok {
		period = key.message.CycleTime.Seconds()
	}
	i := len(l.out.Checks.Messages)
	l.messages[key] = i
	l.out.Checks.Messages = append(l.out.Checks.Messages, checks.Message{
		Name: key.message.Name, Source: key.source, Period: period, Length: key.message.Length,
	})
	return i
}

// find reads "message.signal" or "source:message.signal".
func (l *loader) find(w *wantedChannel) (signalKey, bool) {
	at, text := w.at("signal"), w.word.Signal
	if strings.Contains(text, "{corner}") && w.corner == "" {
		l.faults.add(at, "{corner} stands in %s, but %s belongs to no corner: write the message by its name, or give %s a corner", quote(text), w.owner, w.owner)
		return signalKey{}, false
	}
	if strings.ContainsAny(strings.ReplaceAll(text, "{corner}", ""), "{}") {
		l.faults.addOf(at, w.owner, "%s has other braces than {corner}: only that is replaced, by the name of the corner", quote(text))
		return signalKey{}, false
	}
	text = strings.ReplaceAll(text, "{corner}", w.corner)
	only := -1 // source that the text names
	if before, after, ok := strings.Cut(text, ":"); ok {
		only = slices.Index(l.out.Checks.Sources, before)
		if only < 0 {
			l.faults.add(at, "%s of %s: no source is named %s: %s", w.quantity, w.owner, quote(before), advise(before, l.out.Checks.Sources))
			return signalKey{}, false
		}
		text = after
	}
	message, signal, ok := strings.Cut(text, ".")
	if !ok || message == "" || signal == "" {
		l.faults.add(at, "%s of %s is %s: write \"message.signal\" as the DBC file names them, or \"source:message.signal\"", w.quantity, w.owner, quote(w.word.Signal))
		return signalKey{}, false
	}

	var found []messageKey
	var names []string
	blind := len(l.known) == 0
	for source := range l.known {
		if only >= 0 && source != only {
			continue
		}
		blind = blind || l.known[source].blind
		for _, m := range l.known[source].messages {
			if m.Name == message {
				found = append(found, messageKey{source, m})
			}
			names = append(names, m.Name)
		}
	}
	switch {
	case len(found) == 0 && blind:
		return signalKey{}, false // the missing or broken file is the fault
	case len(found) == 0:
		l.faults.addOf(at, w.owner, "%s of %s: no DBC file has a message %s: %s", w.quantity, w.owner, quote(message), advise(message, names))
		return signalKey{}, false
	case len(found) > 1:
		l.faults.addOf(at, w.owner, "%s of %s: %s", w.quantity, w.owner, l.ambiguous(found, text))
		return signalKey{}, false
	}
	m := found[0]
	i := m.message.Find(signal)
	if i < 0 {
		if l.known[m.source].blind {
			return signalKey{}, false // the signal may stand in the lines that are broken
		}
		l.faults.addOf(at, w.owner, "%s of %s: message %s has no signal %s: %s", w.quantity, w.owner, message, quote(signal), advise(signal, signalNames(m.message)))
		return signalKey{}, false
	}
	return signalKey{m.source, m.message, i}, true
}

// ambiguous says how to tell messages of one name apart.
func (l *loader) ambiguous(found []messageKey, text string) string {
	sources := make([]string, len(found))
	for i, f := range found {
		sources[i] = l.out.Sources[f.source].Name
	}
	distinct := slices.Compact(slices.Clone(sources))
	if len(distinct) < len(found) {
		return fmt.Sprintf("%d messages of source %s have this name: give them different names in the DBC files", len(found), distinct[0])
	}
	return fmt.Sprintf("sources %s each have this message: write \"%s:%s\", with the source that is meant", strings.Join(sources, " and "), sources[0], text)
}

// signalNames lists the signals of a message.
func signalNames(m *dbc.Message) []string {
	names := make([]string, len(m.Signals))
	for i := range m.Signals {
		names[i] = m.Signals[i].Name
	}
	return names
}

// conversion returns the factor and offset from what the DBC file gives to SI.
// sign and scale multiply what the file gives, before its unit is turned.
func (l *loader) conversion(w *wantedChannel, signal *dbc.Signal, name string) (scale, offset float64, ok bool) {
	ok = true
	scale = 1
	if s := w.word.Sign; s != nil {
		if *s != 1 && *s != -1 {
			l.faults.addOf(w.at("sign"), w.owner, "sign is %v: write 1 or -1; another factor is scale", *s)
			ok = false
		}
		scale *= *s
	}
	if s := w.word.Scale; s != nil {
		if *s == 0 {
			l.faults.addOf(w.at("scale"), w.owner, "scale is 0, which makes every value 0: write the factor on what the DBC file gives")
			ok = false
		}
		scale *= *s
	}
	si, needed := siUnit(w.quantity)
	if !needed {
		return scale, 0, ok
	}
	unit, at, says := signal.Unit, w.at("signal"), "the DBC file gives "+name
	if w.word.Unit != nil {
		unit, at, says = *w.word.Unit, w.at("unit"), "the setup gives "+name
	}
	want, _ := dbc.Unit(si)
	conversion, known := dbc.Unit(unit)
	advice := fmt.Sprintf("write {signal: %q, unit: …} with one of %s", w.word.Signal, strings.Join(dbc.Units(want.Dimension), ", "))
	switch {
	case strings.TrimSpace(unit) == "":
		l.faults.addOf(at, w.owner, "%s needs a unit, and %s none: %s", w.quantity, says, advice)
	case !known:
		l.faults.addOf(at, w.owner, "%s the unit %s, which is not known: %s", says, quote(unit), advice)
	case conversion.Dimension != want.Dimension:
		l.faults.addOf(at, w.owner, "%s is a %s, and %s the unit %s, which is one of %s: name another signal, or %s", w.quantity, want.Dimension, says, quote(unit), conversion.Dimension, advice)
	default:
		return scale * conversion.Factor, conversion.Offset, ok
	}
	return 0, 0, false
}

// good returns the values of a status channel that mean well, as the channel
// delivers them. They are given raw, or as texts of the value table.
func (l *loader) good(w *wantedChannel, signal *dbc.Signal, name string) ([]float64, bool) {
	if w.quantity != checks.Status {
		if len(w.word.Good) > 0 {
			l.faults.addOf(w.at("good"), w.owner, "good belongs to status, and this is %s: remove good", w.quantity)
			return nil, false
		}
		return nil, true
	}
	given := w.word.Good
	if len(given) == 0 {
		given = []any{int64(0)}
	}
	ok := true
	scale := 1.0
	for _, s := range []*float64{w.word.Sign, w.word.Scale} {
		if s != nil {
			scale *= *s
		}
	}
	var good []float64
	for i, g := range given {
		var raw float64
		switch g := g.(type) {
		case int64:
			raw = float64(g)
		case uint64:
			raw = float64(g)
		case float64:
			raw = g
		case string:
			at := slices.IndexFunc(signal.Values, func(v dbc.ValueText) bool { return v.Text == g })
			if at < 0 {
				texts := make([]string, len(signal.Values))
				for j := range signal.Values {
					texts[j] = signal.Values[j].Text
				}
				advice := "write raw numbers, as in good: [0]; the DBC file names no values of it"
				if len(texts) > 0 {
					advice = advise(g, texts)
				}
				l.faults.addOf(w.node.item("good", i), w.owner, "%s has no value named %s: %s", name, quote(g), advice)
				ok = false
				continue
			}
			raw = float64(signal.Values[at].Raw)
		default:
			l.faults.addOf(w.node.item("good", i), w.owner, "good holds a truth value: write raw numbers or texts of the value table")
			ok = false
			continue
		}
		good = append(good, scale*(raw*signal.Scale+signal.Offset))
	}
	return good, ok
}
