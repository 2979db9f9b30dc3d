package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

var manFolder = flag.String("man", "", "write the manual pages into this `folder`: go test ./cmd/plumbline -run TestManPages -man DIR")

// manTail is what the page of the program itself says beyond its command line.
const manTail = `
.SH EXIT STATUS
.TP
0
every check passed
.TP
1
a check failed
.TP
2
the command line or the setup is wrong
.TP
3
not enough data, or data that cannot be used
.TP
70
a fault of the program: please report it

.SH FILES
.TP
.I /etc/plumbline/setup.yaml
the setup that the service uses; example.yaml lies beside it
.TP
.I /var/lib/plumbline
what the service has recorded
.TP
.I /usr/share/doc/plumbline
README.md leads to the rest: each check, metrics, the service, examples
`

// manPages returns the manual by name of the file, made of the command line as it is.
// Its date is SOURCE_DATE_EPOCH, where that is set.
func manPages(t *testing.T) map[string]string {
	t.Helper()
	root := newRoot(streams{strings.NewReader(""), &bytes.Buffer{}, &bytes.Buffer{}})
	root.DisableAutoGenTag = true
	root.InitDefaultCompletionCmd()
	pages := map[string]string{}
	var add func(c *cobra.Command)
	add = func(c *cobra.Command) {
		var page bytes.Buffer
		if err := doc.GenMan(c, &doc.GenManHeader{Section: "1", Source: "plumbline", Manual: "plumbline"}, &page); err != nil {
			t.Fatal(err)
		}
		text := page.String()
		if c == root {
			text += manTail
		}
		pages[strings.ReplaceAll(c.CommandPath(), " ", "-")+".1"] = text
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				add(sub)
			}
		}
	}
	add(root)
	return pages
}

// TestManPages: each command has its page, with its flags. It writes them where -man names a folder.
func TestManPages(t *testing.T) {
	pages := manPages(t)
	for name, want := range map[string][]string{
		"plumbline.1":             {".SH EXIT STATUS", "plumbline-replay(1)", "/etc/plumbline/setup.yaml"},
		"plumbline-run.1":         {`\fB--record\fP`, `\fB--keep-mib\fP`, "SIGHUP"},
		"plumbline-replay.1":      {`\fB--format\fP`},
		"plumbline-setup-check.1": {"SETUP"},
	} {
		for _, words := range want {
			if !strings.Contains(pages[name], words) {
				t.Errorf("%s does not say %q:\n%s", name, words, pages[name])
			}
		}
	}
	if *manFolder == "" {
		return
	}
	for name, text := range pages {
		if err := os.WriteFile(filepath.Join(*manFolder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
