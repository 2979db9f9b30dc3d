package pcapng

import (
	"fmt"
	"strconv"
	"strings"

	"plumbline/bus"
)

// What other programs show of the interfaces of our own. The description tells
// them from what somebody else has put on a link type that is free to all.
const (
	ownWord     = "plumbline"
	eventsName  = "plumbline"
	aboutEvents = "plumbline events"
	aboutSerial = "plumbline serial bytes"
)

// appendField appends one line "key value"; nothing where there is no value.
func appendField(p []byte, key, value string) []byte {
	if value = clean([]byte(value)); value == "" {
		return p
	}
	p = append(append(p, key...), ' ')
	return append(append(p, value...), '\n')
}

// nextField takes the first line off text.
func nextField(text string) (key, value, rest string) {
	line, rest, _ := strings.Cut(text, "\n")
	key, value, _ = strings.Cut(line, " ")
	return key, value, rest
}

// textField is the key of the last field, whose value runs to the end and may
// hold any byte.
const textField = "text "

// appendStatement appends a note as doc.go describes it.
func appendStatement(p []byte, n *bus.Note, source string) []byte {
	p = appendField(p, ownWord, noteWord(n.Kind))
	for _, key := range [...]string{"source", "count", "place", "link", "bitrate", "databitrate", "step", "monotonic"} {
		if has(n.Kind, key) {
			p = appendField(p, key, field(n, source, key))
		}
	}
	if !has(n.Kind, "text") {
		return p[:len(p)-1]
	}
	return append(append(p, textField...), cutText(n.Text, MaxText)...)
}

// field is the value of a note's field; "" where there is none.
func field(n *bus.Note, source, key string) string {
	switch key {
	case "source":
		return cleanName(source)
	case "count":
		return strconv.FormatUint(n.Count, 10)
	case "place":
		return placeWord(n.Place)
	case "link":
		return linkWord(n.Link)
	case "bitrate":
		return rate(n.BitRate)
	case "databitrate":
		return rate(n.DataBitRate)
	case "step":
		return strconv.FormatInt(n.Step, 10)
	case "monotonic":
		return strconv.FormatInt(n.Monotonic, 10)
	}
	return ""
}

// comment is what people read of a note in other programs: its text.
func comment(n *bus.Note) string {
	text := cutText(n.Text, MaxText)
	if !has(n.Kind, "text") {
		return "" // there are too many to be read by a person
	}
	if strings.TrimSpace(text) == "" && n.Kind != bus.Mark {
		text = noteWord(n.Kind)
	}
	return strings.ToValidUTF8(text, "?")
}

// event reads a packet of the events. What it tells came about between the
// frames before and behind it.
func (r *Reader) event(b *bus.Batch, at int64, packet []byte) {
	n := bus.Note{Before: len(b.Frames), At: at}
	source, what := readStatement(&n, string(packet))
	if what != "" {
		r.warn(b, at, "event skipped: %s", what)
		return
	}
	switch n.Kind {
	case bus.Mark, bus.Clock, bus.Warning, bus.Tick, bus.Told, bus.BothClocks: // of no source
	case bus.Loss, bus.LinkChanged, bus.Garbage:
		if source == "" {
			r.warn(b, at, "event skipped: it names no source")
			return
		}
		index := r.source(source)
		if index == notCAN {
			r.warn(b, at, "event skipped: there are more than %d interfaces", maxInterfaces)
			return
		}
		n.Source = uint16(index)
		if n.Kind == bus.Loss {
			r.told(index, n.Count)
		}
	}
	b.Notes = append(b.Notes, n)
}

// told remembers a loss, so that the statistics of the interface do not tell it again.
func (r *Reader) told(source int, count uint64) {
	for k := range r.ifaces {
		if i := &r.ifaces[k]; i.source == source {
			i.drops += min(count, ^i.drops)
		}
	}
}

// readStatement fills n, all but Before, At and Source, and returns the name of
// the source. what is "" or says what is wrong, as it ends a sentence.
func readStatement(n *bus.Note, text string) (source, what string) {
	key, word, text := nextField(text)
	known := false
	for k := bus.Warning; k <= bus.BothClocks; k++ {
		if noteWord(k) == word {
			n.Kind, known = k, true
		}
	}
	if key != ownWord || !known {
		return "", fmt.Sprintf("%q is no kind of event that is known here", cutText(clean([]byte(key+" "+word)), maxName))
	}
	for text != "" {
		if rest, ok := strings.CutPrefix(text, textField); ok {
			if has(n.Kind, "text") {
				n.Text = rest
			}
			break
		}
		var value string
		var err error
		if key, value, text = nextField(text); !has(n.Kind, key) {
			continue
		}
		switch key {
		case "source":
			source = cleanName(value)
		case "count":
			n.Count, err = strconv.ParseUint(value, 10, 64)
		case "monotonic":
			n.Monotonic, err = strconv.ParseInt(value, 10, 64)
		case "step":
			n.Step, err = strconv.ParseInt(value, 10, 64)
		case "place":
			for p := bus.Somewhere; p <= bus.Recorder; p++ {
				if placeWord(p) == value {
					n.Place = p
				}
			}
		case "bitrate":
			n.BitRate, err = parseRate(value)
		case "databitrate":
			n.DataBitRate, err = parseRate(value)
		case "link":
			for l := bus.LinkUnknown; l <= bus.NoValidFrame; l++ {
				if linkWord(l) == value {
					n.Link = l
				}
			}
		}
		if err != nil {
			return "", fmt.Sprintf("its %s is not a number", key)
		}
	}
	return source, ""
}

// has tells whether a kind of note has a field of that key: it is written, and where another kind has it, passed over.
func has(k bus.NoteKind, key string) bool {
	switch key {
	case "source":
		return k == bus.Loss || k == bus.LinkChanged || k == bus.Garbage
	case "count":
		return k == bus.Loss || k == bus.Garbage || k == bus.Told
	case "place":
		return k == bus.Loss
	case "link", "bitrate", "databitrate":
		return k == bus.LinkChanged
	case "step":
		return k == bus.Clock
	case "monotonic":
		return k == bus.BothClocks
	case "text":
		return k != bus.Tick && k != bus.BothClocks
	}
	return false
}

// rate writes a bit rate; "" where it is not known.
func rate(bits uint32) string {
	if bits == 0 {
		return ""
	}
	return strconv.FormatUint(uint64(bits), 10)
}

func parseRate(value string) (uint32, error) {
	n, err := strconv.ParseUint(value, 10, 32)
	return uint32(n), err
}

func noteWord(k bus.NoteKind) string {
	switch k {
	case bus.Warning:
		return "warning"
	case bus.Mark:
		return "mark"
	case bus.Loss:
		return "loss"
	case bus.LinkChanged:
		return "link"
	case bus.Clock:
		return "clock"
	case bus.Garbage:
		return "garbage"
	case bus.Tick:
		return "tick"
	case bus.Told:
		return "told"
	case bus.BothClocks:
		return "clocks"
	}
	return "unknown"
}

func placeWord(p bus.Place) string {
	switch p {
	case bus.Controller:
		return "controller"
	case bus.Driver:
		return "driver"
	case bus.Queue:
		return "queue"
	case bus.Ring:
		return "ring"
	case bus.Recorder:
		return "recorder"
	case bus.Somewhere:
	}
	return "somewhere"
}

func linkWord(l bus.Link) string {
	switch l {
	case bus.Absent:
		return "absent"
	case bus.Down:
		return "down"
	case bus.Silent:
		return "silent"
	case bus.ErrorActive:
		return "error-active"
	case bus.ErrorWarning:
		return "error-warning"
	case bus.ErrorPassive:
		return "error-passive"
	case bus.BusOff:
		return "bus-off"
	case bus.NoValidFrame:
		return "no-valid-frame"
	case bus.LinkUnknown:
	}
	return "unknown"
}
