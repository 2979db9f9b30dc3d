package report

import (
	"context"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// needs skips a test whose tool is not installed; on a CI machine that is a failure.
func needs(t *testing.T, tool, debian string) string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err == nil {
		return path
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is missing: apt-get install %s", tool, debian)
	}
	t.Skipf("%s is missing: apt-get install %s", tool, debian)
	return ""
}

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

// printed prints a document to paper of a size and returns the PDF file.
func printed(t *testing.T, chromium, document, paper string) string {
	t.Helper()
	dir := t.TempDir()
	page, pdf := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.pdf")
	// headless Chromium takes the size of the paper from the page, and from nowhere else
	document = strings.Replace(document, "</head>", "<style>@page { size: "+paper+"; }</style></head>", 1)
	if err := os.WriteFile(page, []byte(document), 0o600); err != nil {
		t.Fatal(err)
	}
	run(t, chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run",
		"--user-data-dir="+filepath.Join(dir, "profile"), "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+page)
	return pdf
}

// paper is what pdftotext -bbox writes of a document.
type paper struct {
	Pages []struct {
		Width  float64 `xml:"width,attr"`
		Height float64 `xml:"height,attr"`
		Words  []struct {
			Left   float64 `xml:"xMin,attr"`
			Right  float64 `xml:"xMax,attr"`
			Top    float64 `xml:"yMin,attr"`
			Bottom float64 `xml:"yMax,attr"`
			Text   string  `xml:",chardata"`
		} `xml:"word"`
	} `xml:"body>doc>page"`
}

// widest is a document whose tables are as wide as tables get: eight corners, long
// names, values with many digits, every sentence in German.
func widest() Document {
	r := wide()
	var names []string
	for i := range r.Findings {
		f := &r.Findings[i]
		f.Evidence = daemon.Evidence{Samples: 98765432, Revolutions: 1234.5, From: r.Captures[0].First + 1e9, To: r.Captures[0].Last + 86400e9}
		f.Verdict, f.Value = checks.Inconclusive, new(-1234567.25)
		names = append(names, f.Subject)
	}
	for _, name := range names {
		for _, q := range []string{"fz", "my"} {
			r.Findings = append(r.Findings, daemon.Finding{
				Check: "zero", Subject: name, Channel: q, Verdict: checks.Fail, Required: true, Value: new(-123.4), Uncertainty: new(0.25), Limit: new(2000.0), Unit: "N·m",
				Sentence: "a sentence of more than one line, so that it must be broken, " + strings.Repeat("and again ", 20),
			})
		}
	}
	r.Findings = append(r.Findings, daemon.Finding{Check: "alive", Subject: strings.Repeat("anamewithoutanyblank", 12), Verdict: checks.Pass})
	r.Setup.Vehicle = "Minibus: 7 “long” " + strings.Repeat("wheelbase", 20)
	r.Captures[0].File = strings.Repeat("a-folder/", 30) + "drive.log"
	return Document{
		Language: German, Setup: plain(names...),
		Tests: []Test{{Result: r, Now: turned(8), Recordings: []File{{r.Captures[0].File, strings.Repeat("ef", 32)}}}},
	}
}

// TestHTMLPrints prints to the paper of both worlds and reads what is on it.
func TestHTMLPrints(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	chromium, pdftotext := needs(t, "chromium", "chromium"), needs(t, "pdftotext", "poppler-utils")
	const (
		millimetre = 72 / 25.4
		round      = 2 // points: Chromium puts margins on whole pixels
	)
	papers := []struct {
		name          string
		width, height float64 // mm
	}{{"A4", 210, 297}, {"letter", 215.9, 279.4}} // ISO 216; ANSI/ASME Y14.1
	documents := []struct {
		name string
		doc  Document
		want []string
	}{
		{"full", full(), []string{"93.21", "7900 ± 790", "End of report PL-20260102-030045-", "175.5 N·m", strings.Repeat("cd", 32)}},
		{"widest", widest(), []string{"−1234567,25", "98765432", "1234,5", "A4R", "unentschieden", "Ende des Berichts PL-20260102-030045-", "40124"}},
	}
	for _, d := range documents {
		document := render(t, d.doc)
		id, err := Identify(d.doc.Tests)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range papers {
			t.Run(d.name+" "+p.name, func(t *testing.T) {
				pdf := printed(t, chromium, document, p.name)
				var got paper
				decoder := xml.NewDecoder(strings.NewReader(run(t, pdftotext, "-bbox", pdf, "-")))
				decoder.Strict, decoder.Entity = false, xml.HTMLEntity
				if err := decoder.Decode(&got); err != nil {
					t.Fatal(err)
				}
				if len(got.Pages) < 3 {
					t.Fatalf("got %d pages", len(got.Pages))
				}
				tallest := 0.0
				for _, word := range got.Pages[0].Words {
					tallest = max(tallest, word.Bottom-word.Top)
				}
				if heading := 9 * 1.7; tallest < heading { // Chromium makes all smaller where something is too wide, down to 70 %, and clips then
					t.Errorf("the heading is %.1f points high, want %.1f: something is wider than the paper", tallest, heading)
				}
				w := catalogueOf(d.doc.Language)
				all := ""
				for i, page := range got.Pages {
					if diff := page.Width - p.width*millimetre; diff > 1 || diff < -1 {
						t.Fatalf("page of %.0f points, want %.0f", page.Width, p.width*millimetre)
					}
					texts := make([]string, 0, len(page.Words))
					for _, word := range page.Words {
						texts = append(texts, word.Text)
						// 15 mm of margin at the sides, 19 above and 21 below, as the style says; in them stand head and foot
						if word.Left < 15*millimetre-round || word.Right > page.Width-15*millimetre+round || word.Top < 10*millimetre-round || word.Bottom > page.Height-8*millimetre {
							t.Errorf("page %d: %q stands outside of the paper's margins: %+v", i+1, word.Text, word)
						}
					}
					for j, a := range page.Words {
						for _, b := range page.Words[:j] {
							if min(a.Right, b.Right)-max(a.Left, b.Left) > round && min(a.Bottom, b.Bottom)-max(a.Top, b.Top) > round {
								t.Errorf("page %d: %q lies on %q", i+1, a.Text, b.Text)
							}
						}
					}
					text := strings.Join(texts, " ")
					all += text + "\n"
					for _, want := range []string{fmt.Sprintf("%s %d %s %d", w.Page, i+1, w.Of, len(got.Pages)), id, "abababababababab…", "cdcdcdcdcdcdcdcd…", "efefefefefefefef…", "plumbline (test)"} {
						if !strings.Contains(text, want) {
							t.Errorf("page %d does not say %q:\n%s", i+1, want, text)
						}
					}
				}
				for _, want := range d.want {
					if !strings.Contains(all, want) {
						t.Errorf("the paper does not say %q", want)
					}
				}
				last := got.Pages[len(got.Pages)-1]
				if n := len(last.Words); n == 0 || !strings.Contains(all[strings.LastIndex(strings.TrimSpace(all), "\n"):], w.End) {
					t.Errorf("the last page has no end mark %q", w.End)
				}
			})
		}
	}
}
