package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"plumbline/daemon"
)

// Survey writes a first look for people: interfaces, messages with their rates
// and gaps, the ranges of decoded signals, marks and warnings. Lines are as wide
// as their tables need.
func Survey(w io.Writer, s *daemon.Survey, style Style) error {
	var out strings.Builder
	v := survey{&out, style, s}
	v.head()
	v.warnings(v.s.Warnings)
	v.interfaces()
	v.links()
	v.messages()
	v.signals()
	v.marks()
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

type survey struct {
	*strings.Builder
	style Style
	s     *daemon.Survey
}

func (v survey) head() {
	line := fmt.Sprintf("%s: %d frames", printable(v.s.File), v.s.Frames)
	if v.s.Frames == 1 {
		line = printable(v.s.File) + ": 1 frame"
	}
	if v.s.First != 0 && v.s.Last >= v.s.First {
		line += fmt.Sprintf(", from %s, %.1f s", clock(v.s.First), time.Duration(v.s.Last-v.s.First).Seconds())
	}
	wrap(v.Builder, v.style.plain(line), 0, v.style.width())
}

func (v survey) warnings(list []string) {
	for _, warning := range list {
		v.WriteString("! ")
		wrap(v.Builder, v.style.plain(printable(warning)), 2, v.style.width())
	}
}

func (v survey) heading(name string) { v.WriteString("\n" + v.style.bold(name) + "\n") }

func (v survey) interfaces() {
	if len(v.s.Interfaces) == 0 {
		return
	}
	v.heading("Interfaces")
	tab := table{indent: 2, right: []bool{false, true, true, true, true}}
	tab.add(words("", "frames", "error frames", "remote frames", "lost")...)
	for _, i := range v.s.Interfaces {
		tab.add(words(printable(i.Name), whole(i.Frames), whole(i.Errors), whole(i.Remote), whole(i.Lost))...)
	}
	tab.write(v.Builder, v.style)
	for i := range v.s.Interfaces {
		v.state(&v.s.Interfaces[i])
	}
}

func (v survey) messages() {
	if len(v.s.Messages) == 0 {
		return
	}
	v.heading("Messages")
	name := "" // a column that nobody fills needs no heading
	for i := range v.s.Messages {
		if v.s.Messages[i].Name != "" {
			name = "name"
		}
	}
	tab := table{indent: 2, right: []bool{false, true, false, true, true, true, true, true, true, true, true}}
	head := words("", "identifier", name, "frames", "per s")
	if v.s.Live {
		head = append(head, field{text: "now"})
	}
	tab.add(append(head, words("period ms", "shortest", "longest gap", "at s", "bytes")...)...)
	for i := range v.s.Messages {
		m := &v.s.Messages[i]
		row := words(printable(v.s.Interfaces[m.Interface].Name), identifier(m), printable(m.Name), whole(m.Frames), "")
		if m.Frames > 1 {
			row[4].text = perSecond(m.Rate)
		}
		if v.s.Live {
			row = append(row, field{text: perSecond(m.Now)})
		}
		if m.Frames > 1 {
			row = append(row, words(milliseconds(m.Median), milliseconds(m.Shortest), milliseconds(m.Gap), v.since(m.GapAt))...)
		} else {
			row = append(row, words("", "", "", "")...)
		}
		tab.add(append(row, field{text: lengths(m)})...)
	}
	tab.write(v.Builder, v.style)
	if v.s.Further > 0 {
		fmt.Fprintf(v, "  and %d frames of further identifiers: noise, or a wrong bit rate\n", v.s.Further)
	}
}

func (v survey) signals() {
	tab := table{indent: 2, right: []bool{false, false, true, false, true, false}}
	if v.s.Live {
		tab.right = []bool{false, false, true, false, true, false, true, false}
	}
	for i := range v.s.Messages {
		m := &v.s.Messages[i]
		for j := range m.Signals {
			s := &m.Signals[j]
			row := words(printable(v.s.Interfaces[m.Interface].Name), printable(m.Name+"."+s.Name))
			if v.s.Live {
				row = append(row, latest(s)...)
			}
			if s.Values == 0 {
				row = append(row, words("", "never", "", "")...)
			} else {
				row = append(row, words(short(s.Min), "to", short(s.Max), printable(s.Unit))...)
			}
			tab.add(row...)
		}
	}
	if len(tab.rows) == 0 {
		return
	}
	v.heading("Signals")
	tab.write(v.Builder, v.style)
}

func (v survey) marks() {
	if len(v.s.Marks) == 0 {
		return
	}
	v.heading("Marks")
	tab := table{indent: 2, right: []bool{true}}
	for _, m := range v.s.Marks {
		tab.add(words(v.since(m.At)+" s", printable(m.Text))...)
	}
	tab.write(v.Builder, v.style)
}

// since writes a time as seconds since the first frame.
func (v survey) since(at daemon.Instant) string {
	return strconv.FormatFloat(time.Duration(at-v.s.First).Seconds(), 'f', 1, 64)
}

func identifier(m *daemon.SurveyMessage) string {
	if m.Extended {
		return fmt.Sprintf("%08X", m.ID)
	}
	return fmt.Sprintf("%03X", m.ID)
}

func lengths(m *daemon.SurveyMessage) string {
	if m.ShortestData == m.LongestData {
		return strconv.Itoa(int(m.LongestData))
	}
	return fmt.Sprintf("%d-%d", m.ShortestData, m.LongestData)
}

func perSecond(rate float64) string { return strconv.FormatFloat(rate, 'f', 1, 64) }

func milliseconds(d time.Duration) string {
	return strconv.FormatFloat(float64(d)/1e6, 'f', 2, 64)
}

// short writes a value with at most six significant digits and no zeros behind.
func short(v float64) string {
	return fixed(roundTo(v, 6), -1)
}

func whole(n uint64) string { return strconv.FormatUint(n, 10) }
