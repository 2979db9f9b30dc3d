package report

import (
	"bytes"
	"encoding/xml"
	"strings"
	"testing"
)

// TestSheetsPrint prints a comparison and a history to A4: nothing stands beyond the margins, nothing was made smaller to
// fit, each page has its id and its number, and no page is left empty.
func TestSheetsPrint(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	chromium, pdftotext := needs(t, "chromium", "chromium"), needs(t, "pdftotext", "poppler-utils")
	const (
		millimetre = 72 / 25.4
		width      = 210 * millimetre // ISO 216
		margin     = 15*millimetre - 2
	)
	c, h := comparison(), months(t, " “long” wheelbase")
	var compared, history bytes.Buffer
	if err := CompareHTML(&compared, &c); err != nil {
		t.Fatal(err)
	}
	if err := HistoryHTML(&history, &h); err != nil {
		t.Fatal(err)
	}
	for name, document := range map[string]string{"comparison": compared.String(), "history": history.String()} {
		t.Run(name, func(t *testing.T) {
			var got paper
			decoder := xml.NewDecoder(strings.NewReader(run(t, pdftotext, "-bbox", printed(t, chromium, document, "A4"), "-")))
			decoder.Strict, decoder.Entity = false, xml.HTMLEntity
			if err := decoder.Decode(&got); err != nil {
				t.Fatal(err)
			}
			if n := len(got.Pages); n < 2 || n > 4 {
				t.Fatalf("%d pages, want 2 to 4", n)
			}
			tallest := 0.0
			for i, page := range got.Pages {
				var texts []string
				for _, word := range page.Words {
					texts = append(texts, word.Text)
					if i == 0 {
						tallest = max(tallest, word.Bottom-word.Top)
					}
					if word.Left < margin || word.Right > width-margin {
						t.Errorf("page %d: %q stands beyond the margins: %+v", i+1, word.Text, word)
					}
				}
				text := strings.Join(texts, " ")
				if !strings.Contains(text, "P"+strings.ToUpper(name[:1])+"-2026") || !strings.Contains(text, "page") {
					t.Errorf("page %d has no id or number:\n%s", i+1, text)
				}
				if len(page.Words) < 40 {
					t.Errorf("page %d is all but empty: %s", i+1, text)
				}
			}
			if heading := 9 * 1.7; tallest < heading { // Chromium makes all smaller where something is too wide
				t.Errorf("the heading is %.1f points high, want %.1f: something is wider than the paper", tallest, heading)
			}
		})
	}
}
