package dashboards

import (
	"fmt"
	"html"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// The grid of a board, px.
const (
	column = 62
	line   = 38
	gap    = 6
)

// sketch draws panels about as Grafana does, so that a person can look whether they tell anything.
type sketch struct {
	out      strings.Builder
	from, to float64 // s
}

// draw writes each board with the data of a run as NAME.svg into the folder that was asked for.
func draw(t *testing.T, store *process, p *play, from, to time.Time) {
	t.Helper()
	for _, b := range Boards() {
		s := &sketch{from: float64(from.UnixMilli()) / 1e3, to: float64(to.UnixMilli()) / 1e3}
		y := 0
		for _, part := range b.sections {
			s.text(4, y+24, 17, "#222", "▾ "+part.title)
			y += line
			x, high := 0, 0
			for _, panel := range part.panels {
				var data [][]sequence
				for _, q := range panel.queries {
					got, err := store.ask(t, filled(q.expr, p), from, to, 250*time.Millisecond)
					if err != nil {
						t.Fatal(err)
					}
					data = append(data, got)
				}
				s.panel(panel, data, x*column, y, int(panel.width)*column-gap, int(panel.height)*line-gap)
				high = max(high, int(panel.height))
				if x += int(panel.width); x >= 24 {
					x, y, high = 0, y+high*line, 0
				}
			}
			y += high * line
		}
		text := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" font-family="sans-serif"><rect width="100%%" height="100%%" fill="#f4f5f5"/>%s</svg>`, 24*column, y, s.out.String())
		if err := os.WriteFile(filepath.Join(*pictures, b.Name+".svg"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func (s *sketch) text(x, y, size int, colour, text string) {
	fmt.Fprintf(&s.out, `<text x="%d" y="%d" font-size="%d" fill="%s">%s</text>`, x, y, size, colour, html.EscapeString(text))
}

func (s *sketch) rect(x, y, w, h int, colour string) {
	fmt.Fprintf(&s.out, `<rect x="%d" y="%d" width="%d" height="%d" fill="%s"/>`, x, y, max(w, 1), h, colour)
}

// named is a sequence with the name that its legend gives it.
type named struct {
	sequence

	name string
}

func (s *sketch) panel(p *panel, data [][]sequence, x, y, w, h int) {
	s.rect(x, y, w, h, "#fff")
	s.text(x+6, y+17, 13, "#222", p.title)
	var all []named
	for i, got := range data {
		for _, q := range got {
			name := p.queries[i].legend
			for k, v := range q.labels {
				name = strings.ReplaceAll(name, "{{"+k+"}}", v)
			}
			all = append(all, named{q, strings.TrimSpace(name)})
		}
	}
	slices.SortStableFunc(all, func(a, b named) int { return strings.Compare(a.name, b.name) })
	x, y, w, h = x+8, y+26, w-16, h-32
	switch {
	case len(all) == 0:
		s.text(x, y+20, 13, "#888", "no data: "+p.empty)
	case p.kind == lines:
		s.lines(p, all, x, y, w, h)
	case p.kind == timeline:
		s.timeline(p, all, x, y, w, h)
	case p.kind == rows:
		s.rows(p, data, x, y, w, h)
	case p.kind == number:
		for i := range all {
			colour, text := p.shown(last(all[i].values))
			s.rect(x+i*w/len(all), y, w/len(all)-4, h, colour)
			s.text(x+i*w/len(all)+10, y+h/2+8, 22, "#fff", text+" "+all[i].name)
		}
	case p.kind == bars:
		most := p.bound
		for _, q := range all {
			most = math.Max(most, math.Abs(last(q.values)))
		}
		each := min(h/len(all), 24)
		for i, q := range all {
			v := last(q.values)
			s.text(x, y+i*each+each*2/3, 11, "#222", q.name)
			colour := blue
			if p.bound > 0 && v >= p.bound {
				colour = vermilion
			}
			s.rect(x+90, y+i*each+2, int(float64(w-170)*math.Abs(v)/math.Max(most, 1e-12)), each-4, colour)
			_, text := p.shown(v)
			s.text(x+w-75, y+i*each+each*2/3, 11, "#222", text)
		}
	}
}

func last(values []float64) float64 { return values[len(values)-1] }

// shown is how a value is written, with the colour of its state.
func (p *panel) shown(v float64) (colour, text string) {
	for _, s := range p.states {
		if float64(s.value) == v {
			return s.colour, s.word
		}
	}
	unit := map[string]string{"forceN": " N", "forceNm": " N·m", "degree": "°", "celsius": " °C", "volt": " V", "velocitykmh": " km/h", "rotrpm": " rpm", "s": " s", "hertz": " Hz", "cps": "/s", "lengthmm": " mm"}[p.unit]
	switch {
	case p.unit == "percentunit":
		return dark, fmt.Sprintf("%.4g %%", 100*v)
	case strings.HasPrefix(p.unit, "bytes") || p.unit == "Bps":
		return dark, fmt.Sprintf("%.4g MiB", v/(1<<20))
	case math.Abs(v) >= 1000:
		return dark, fmt.Sprintf("%.0f%s", v, unit)
	}
	return dark, fmt.Sprintf("%.4g%s", v, unit)
}

// column is what belongs to the values of a query.
func (p *panel) column(i int) tableColumn {
	for _, c := range p.columns {
		if c.value == "Value" || c.value == fmt.Sprintf("Value #%c", 'A'+i) {
			return c
		}
	}
	return tableColumn{}
}

// style is colour and dashes of a line, as the overrides of a panel give them.
func style(name string, i int) (colour, dash string, width float64) {
	width = 2
	if regexp.MustCompile(` (low|high|±)$`).MatchString(name) {
		width = 0.8
	}
	if strings.HasPrefix(name, "limit") {
		return vermilion, "2 5", 1.2
	}
	for _, c := range cornerColours() {
		if strings.HasPrefix(name, c[0]) {
			if c[0][1] == 'R' {
				dash = "9 4"
			}
			return c[1], dash, width
		}
	}
	return []string{blue, orange, green, purple, sky, vermilion, dark}[i%7], dash, width
}

func (s *sketch) lines(p *panel, all []named, x, y, w, h int) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, q := range all {
		for _, v := range q.values {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
	}
	if high-low < 1e-12 {
		low, high = low-1, high+1
	}
	h -= 34
	left := x + 60
	w -= 60
	for i := range 5 {
		v := low + (high-low)*float64(i)/4
		at := y + h - h*i/4
		s.rect(left, at, w, 1, "#ddd")
		_, text := p.shown(v)
		s.text(x, at+4, 10, "#555", text)
	}
	shown, at := 0, left
	for i, q := range all {
		colour, dash, width := style(q.name, i)
		var points []string
		flush := func() {
			if len(points) > 0 {
				fmt.Fprintf(&s.out, `<polyline points="%s" fill="none" stroke="%s" stroke-width="%.1f" stroke-dasharray="%s"/>`, strings.Join(points, " "), colour, width, dash)
			}
			points = nil
		}
		for k, v := range q.values {
			if k > 0 && q.at[k]-q.at[k-1] > 1.1 {
				flush()
			}
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				points = append(points, fmt.Sprintf("%.1f,%.1f", float64(left)+float64(w)*(q.at[k]-s.from)/(s.to-s.from), float64(y+h)-float64(h)*(v-low)/(high-low)))
			}
		}
		flush()
		if width > 1 && shown < 24 {
			if at+8*len(q.name) > left+w {
				at, shown = left, 24
				continue
			}
			s.text(at, y+h+18, 11, colour, "— "+q.name)
			at += 20 + 7*len(q.name)
			shown++
		}
	}
}

func (s *sketch) timeline(p *panel, all []named, x, y, w, h int) {
	each := min(h/len(all), 26)
	left := x + 100
	w -= 100
	at := func(t float64) int { return left + int(float64(w)*(t-s.from)/(s.to-s.from)) }
	for i, q := range all {
		s.text(x, y+i*each+each*2/3, 11, "#222", q.name)
		for k := 0; k < len(q.values); {
			end := k
			for end < len(q.values) && q.values[end] == q.values[k] {
				end++
			}
			colour, word := p.shown(q.values[k])
			a, b := at(q.at[k]), at(q.at[end-1]+0.25)
			s.rect(a, y+i*each+1, b-a, each-3, colour)
			if b-a > 9*len([]rune(word)) && each > 10 {
				ink := "#fff"
				if colour == yellow || colour == sky {
					ink = "#000"
				}
				s.text(a+4, y+i*each+each*2/3, 11, ink, word)
			}
			k = end
		}
	}
}

func (s *sketch) rows(p *panel, data [][]sequence, x, y, w, h int) {
	hidden := append([]string{"__name__", "instance", "job", "vehicle"}, p.hide...)
	if strings.Contains(p.queries[0].expr, "vehicle=~") {
		hidden = append([]string{"__name__", "instance", "job"}, p.hide...)
	}
	cells := map[string][]string{}
	for i, got := range data {
		for _, q := range got {
			if s.to-q.at[len(q.at)-1] > 2.5 {
				continue // no longer so: a table shows what is now
			}
			var labels []string
			for _, k := range sorted(q.labels) {
				if !slices.Contains(hidden, k) {
					labels = append(labels, q.labels[k])
				}
			}
			key := strings.Join(labels, "  ·  ")
			if cells[key] == nil {
				cells[key] = make([]string, len(data))
			}
			if !slices.Contains(p.hide, "Value") {
				as := *p
				v := last(q.values)
				if c := p.column(i); c.name != "" {
					as.unit, as.states = c.unit, c.states
					if c.word != "" && v < c.below {
						as.states = []state{{int(v), c.word, vermilion}}
						v = math.Trunc(v)
					}
				}
				_, cells[key][i] = as.shown(v)
			}
		}
	}
	cell := max((w-w*2/5)/max(len(data), 1), 40)
	for i := range data {
		s.text(x+w*2/5+i*cell, y+8, 11, "#777", p.column(i).name)
	}
	for i, key := range sorted(cells) {
		if (i+1)*18+14 > h {
			s.text(x, y+(i+1)*18, 11, "#777", fmt.Sprintf("… %d more", len(cells)-i))
			break
		}
		s.text(x, y+(i+1)*18+8, 12, "#222", key)
		for k, c := range cells[key] {
			s.text(x+w*2/5+k*cell, y+(i+1)*18+8, 12, "#222", c)
		}
	}
	if len(cells) == 0 {
		s.text(x, y+20, 13, "#888", "nothing now: "+p.empty)
	}
}
