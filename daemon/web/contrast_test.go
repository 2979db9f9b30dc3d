package web

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of a colour, #rgb or #rrggbb, after WCAG 2.2.
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	hex := strings.TrimPrefix(colour, "#")
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil || len(hex) != 6 {
		t.Fatalf("colour %q: %v", colour, err)
	}
	part := func(shift uint) float64 {
		c := float64(n>>shift&0xFF) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

// contrast is that of two colours, from 1 to 21.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// themes returns the colours of the style sheet by name, for the light and the dark theme.
func themes(t *testing.T) map[string]map[string]string {
	t.Helper()
	css := read(t, "assets/page.css")
	variable := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]+);`)
	roots := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(css, 2)
	if len(roots) != 2 {
		t.Fatal("no two sets of colours in page.css")
	}
	light, dark := map[string]string{}, map[string]string{}
	for i, root := range roots {
		for _, m := range variable.FindAllStringSubmatch(root[1], -1) {
			if i == 0 {
				light[m[1]] = m[2]
			}
			dark[m[1]] = m[2]
		}
	}
	return map[string]map[string]string{"light": light, "dark": dark}
}

// The states and what stands on them have 7:1 (WCAG 2.2, 1.4.6), other text 4.5:1 (1.4.3), edges and drawings 3:1 (1.4.11).
func TestContrast(t *testing.T) {
	if got := contrast(t, "#000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %v, want 21", got)
	}
	if got := contrast(t, "#777777", "#fff"); math.Abs(got-4.478) > 1e-3 { // the well-known grey that just fails
		t.Errorf("#777 on white: %v, want 4.478", got)
	}
	pairs := []struct {
		ink, ground string
		want        float64
	}{
		{"on", "pass", 7},
		{"on", "fail", 7},
		{"on", "none", 7},
		{"ink", "panel", 7}, // open
		{"soft", "panel", 7},
		{"on-now", "now", 7},
		{"warn-ink", "warn", 7},
		{"ink", "bg", 7},
		{"soft", "bg", 4.5},
		{"link", "panel", 4.5},
		{"pass-edge", "panel", 3},
		{"fail-edge", "panel", 3},
		{"pass-edge", "bg", 3},
		{"fail-edge", "bg", 3},
		{"line", "panel", 3},
		{"fill", "track", 3},
		{"link", "bg", 3},
	}
	for theme, colours := range themes(t) {
		for _, p := range pairs {
			if got := contrast(t, colours[p.ink], colours[p.ground]); got < p.want {
				t.Errorf("%s: %s on %s has %.2f:1, want %v:1", theme, p.ink, p.ground, got, p.want)
			}
		}
		if got := contrast(t, "#000", colours["stale"]); got < 7 { // what is stale is black on it in both themes
			t.Errorf("%s: black on stale has %.2f:1, want 7:1", theme, got)
		}
	}
}
