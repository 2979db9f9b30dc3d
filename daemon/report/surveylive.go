package report

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"plumbline/bus/socketcan"
	"plumbline/daemon"
)

// newestWarnings is how many warnings a view that must fit a screen shows.
const newestWarnings = 3

// Glance writes a live survey for a screen of so many lines: what is the state,
// what arrives, which values. Each line fits the width of the style; what does
// not fit the lines is counted in the last. It returns how many lines it wrote.
func Glance(w io.Writer, s *daemon.Survey, style Style, lines int) (int, error) {
	var out strings.Builder
	v := survey{&out, style, s}
	v.head()
	v.warnings(s.Warnings[max(0, len(s.Warnings)-newestWarnings):])
	v.interfaces()
	v.messages()
	v.signals()
	all := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	lines = max(lines, 1)
	if over := len(all) - lines; over > 0 {
		all = append(all[:lines-1], style.plain(fmt.Sprintf("… and %d more lines: a larger window shows them, and so does the end", over+1)))
	}
	for i, line := range all {
		all[i] = shorten(line, style.width())
	}
	if _, err := io.WriteString(w, strings.Join(all, "\n")+"\n"); err != nil {
		return 0, fmt.Errorf("report: %w", err)
	}
	return len(all), nil
}

// shorten cuts a line so that a terminal does not wrap it. Lines that are
// coloured are headings and short.
func shorten(line string, width int) string {
	if utf8.RuneCountInString(line) <= width || strings.Contains(line, "\x1b") {
		return line
	}
	return string([]rune(line)[:width])
}

// state says how an interface stands: the sentence of its link, what the kernel
// knows of its controller, and what was thrown away.
func (v survey) state(i *daemon.SurveyInterface) {
	if !v.s.Live {
		return
	}
	if i.State != "" {
		v.sentence(named(i.Name, i.State))
	}
	if i.CAN != nil {
		v.sentence(named(i.Name, controller(i.CAN)))
	}
	if i.Garbage > 0 {
		v.sentence(fmt.Sprintf("%s: %d bytes belong to no valid frame", i.Name, i.Garbage))
	}
}

func (v survey) sentence(text string) {
	v.WriteString("  ")
	wrap(v.Builder, v.style.plain(printable(text)), 2, v.style.width())
}

// named puts the name of an interface before a sentence that lacks it.
func named(name, text string) string {
	if strings.HasPrefix(text, name+": ") {
		return text
	}
	return name + ": " + text
}

// controller says what the kernel knows of a CAN controller.
func controller(info *socketcan.Info) string {
	c := &info.Controller
	var parts []string
	switch {
	case info.Virtual:
		parts = append(parts, "virtual, there is no controller")
	case info.Index == 0:
		return "nothing is known of a controller"
	case !c.Known:
		parts = append(parts, "no error information: this interface tells neither bit rate nor state, nor whether it is listen-only")
	default:
		parts = append(parts, bitRates(c), "state "+c.State.String())
		if c.Mode.Has(socketcan.ListenOnly) {
			parts = append(parts, "listen-only")
		} else {
			parts = append(parts, "NOT listen-only")
		}
		if c.HasCounters {
			parts = append(parts, fmt.Sprintf("error counters: receive %d, transmit %d", c.RxErrors, c.TxErrors))
		} else {
			parts = append(parts, "no error counters")
		}
		if c.Restart > 0 {
			parts = append(parts, fmt.Sprintf("restarts %d ms after bus-off", c.Restart/time.Millisecond))
		}
	}
	if info.FD {
		parts = append(parts, "passes FD frames")
	}
	if a := &info.Adapter; a.Product != "" || a.Serial != "" || a.Driver != "" {
		parts = append(parts, "adapter "+strings.Join(strings.Fields(strings.Join([]string{a.Product, a.Serial, a.Driver, a.Path}, " ")), " "))
	}
	return strings.Join(parts, ", ")
}

func bitRates(c *socketcan.Controller) string {
	if c.BitRate == 0 {
		return "no bit rate is set"
	}
	text := rate(c.BitRate, c.SamplePoint)
	if c.DataBitRate != 0 && c.Mode.Has(socketcan.FDMode) {
		text += ", data phase " + rate(c.DataBitRate, c.DataSamplePoint)
	}
	return text
}

func rate(bps uint32, sample float64) string {
	return fmt.Sprintf("%s kbit/s, sample point %.1f %%", short(float64(bps)/1000), 100*sample)
}

// latest is the newest value of a signal, and the word between it and its range.
func latest(s *daemon.SurveySignal) []field {
	if s.Values == 0 {
		return words("", "")
	}
	return words(short(s.Last), "in")
}

// links lists what the interfaces went through.
func (v survey) links() {
	if len(v.s.Links) == 0 {
		return
	}
	v.heading("What happened")
	if v.s.Earlier > 0 {
		fmt.Fprintf(v, "  %d changes before these\n", v.s.Earlier)
	}
	for _, l := range v.s.Links {
		at := time.Unix(0, int64(l.At)).UTC().Format("15:04:05.0")
		v.WriteString("  " + at + "  ")
		wrap(v.Builder, v.style.plain(printable(named(v.s.Interfaces[l.Interface].Name, l.Text))), 2+len(at)+2, v.style.width())
	}
}
