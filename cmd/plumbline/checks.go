package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"plumbline/daemon/setup"

	"github.com/spf13/cobra"

	"plumbline/checks"
)

const formatMarkdown = "markdown"

func newChecks(g *global) *cobra.Command {
	var format, file string
	formats := []string{formatText, formatJSON, formatMarkdown}
	c := &cobra.Command{
		Use:   "checks [CHECK...]",
		Short: "Print what each check asks, what to do, how it decides and by which limits",
		Long: "checks prints of each check what it asks, what it means when it fails and what to do then, what must have been\n" +
			"seen before it decides, its formula, its limits with their defaults and reasons, and where they come from.\n" +
			"With names it prints those checks.",
		Example: "  plumbline checks\n" +
			"  plumbline checks zero angle-offset\n" +
			"  plumbline checks --format markdown -o REFERENCE.md",
		ValidArgs: checkNames(),
		RunE: func(_ *cobra.Command, args []string) error {
			if !slices.Contains(formats, format) {
				return fmt.Errorf("unknown format %q: expected one of %s", format, strings.Join(formats, ", "))
			}
			all, err := checksOf(args)
			if err != nil {
				return err
			}
			out, err := create(file, g.out)
			if err != nil {
				return err
			}
			defer out.discard()
			switch format {
			case formatJSON:
				err = checksJSON(out, all)
			case formatMarkdown:
				_, err = io.WriteString(out, checksMarkdown(all))
			default:
				_, err = io.WriteString(out, checksText(all, columns(g.out)))
			}
			if err != nil {
				return err
			}
			return out.commit()
		},
	}
	c.Flags().StringVarP(&format, "format", "f", formatText, "how to write them: "+strings.Join(formats, ", "))
	c.Flags().StringVarP(&file, "output", "o", "", "write to `FILE` instead of standard output")
	complete(c, "format", formats...)
	return c
}

func checkNames() []string {
	var names []string
	for _, c := range checks.All() {
		names = append(names, c.Name)
	}
	return names
}

// checksOf returns the checks of these names in the order of results; all without names.
func checksOf(names []string) ([]checks.Check, error) {
	all := checks.All()
	for _, name := range names {
		if !slices.Contains(checkNames(), name) {
			return nil, fmt.Errorf("no check %q%s: expected one of %s", name, setup.NearWord(name, checkNames()), strings.Join(checkNames(), ", "))
		}
	}
	if len(names) == 0 {
		return all, nil
	}
	return slices.DeleteFunc(all, func(c checks.Check) bool { return !slices.Contains(names, c.Name) }), nil
}

// limitsOf returns the limits that a check judges by.
func limitsOf(c *checks.Check) []checks.LimitKey {
	var out []checks.LimitKey
	for _, k := range checks.LimitKeys() {
		if slices.Contains(c.Limits, k.Key) {
			out = append(out, k)
		}
	}
	return out
}

// defaultOf writes the default of a limit with its unit, as a setup file has it.
func defaultOf(k *checks.LimitKey) string {
	number := func(v float64) string { return strings.Replace(strconv.FormatFloat(v, 'g', -1, 64), "-", "−", 1) }
	text := number(k.Default[0])
	if k.Range {
		text += " to " + number(k.Default[1])
	}
	return strings.TrimSpace(text + " " + k.Unit)
}

// required says whether a function test is complete without a check.
func required(c *checks.Check) string {
	if c.Required {
		return "required"
	}
	return "judged when its evidence comes by"
}

const noLimits = "none that a setup changes"

// checksText writes the checks for people, in lines of at most width columns.
func checksText(all []checks.Check, width int) string {
	var b strings.Builder
	for i := range all {
		c := &all[i]
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s (%s, %s)\n", c.Name, c.Group, required(c))
		say := func(word, text string) {
			fmt.Fprintf(&b, "  %-10s", word)
			folded(&b, text, 12, width)
		}
		say("asks", c.Asks)
		say("if failed", c.Means)
		say("do", c.Do)
		say("evidence", c.Evidence)
		say("formula", c.Formula)
		limits := limitsOf(c)
		for n := range limits {
			word := ""
			if n == 0 {
				word = "limits"
			}
			say(word, limits[n].Key+" "+defaultOf(&limits[n])+": "+limits[n].Why)
		}
		if len(limits) == 0 {
			say("limits", noLimits)
		}
		say("source", c.Source)
	}
	return b.String()
}

// folded writes text in lines of at most width columns, of which the first begins in column at.
func folded(b *strings.Builder, text string, at, width int) {
	column := at
	for i, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case column+1+n > width:
			b.WriteString("\n" + strings.Repeat(" ", at))
			column = at
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += n
	}
	b.WriteByte('\n')
}

// checksMarkdown writes the reference documentation.
func checksMarkdown(all []checks.Check) string {
	var b strings.Builder
	b.WriteString("# Checks\n\nWritten by `plumbline checks --format markdown`; the texts stand in checks/table.go and checks/limits.go. " +
		"Names are an interface. Values and limits are SI in results; a setup file gives limits in the unit shown here. A finding says the same with names and numbers; from what you see to what is so: [troubleshooting](../daemon/TROUBLESHOOTING.md).\n")
	var group checks.Group
	for i := range all {
		c := &all[i]
		if c.Group != group {
			group = c.Group
			fmt.Fprintf(&b, "\n## %s\n", group)
		}
		fmt.Fprintf(&b, "\n### %s\n\n%s? *%s*\n\n", c.Name, strings.ToUpper(c.Asks[:1])+c.Asks[1:], required(c))
		limits := limitsOf(c)
		named := make([]string, 0, len(limits))
		for n := range limits {
			named = append(named, "`"+limits[n].Key+"` "+defaultOf(&limits[n]))
		}
		if len(named) == 0 {
			named = append(named, noLimits)
		}
		fmt.Fprintf(&b, "* **If it fails:** %s\n* **Do:** %s\n* **Evidence:** %s\n* **Formula:** %s\n* **Limits:** %s.\n* **Source:** %s\n", marked(c.Means), marked(c.Do), marked(c.Evidence), marked(c.Formula), strings.Join(named, ", "), marked(c.Source))
	}
	b.WriteString("\n## Limits\n\n| key under limits: | default | why | used by |\n| --- | --- | --- | --- |\n")
	for _, k := range checks.LimitKeys() {
		var by []string
		for i := range all {
			if slices.Contains(all[i].Limits, k.Key) {
				by = append(by, all[i].Name)
			}
		}
		if len(by) > 0 {
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", k.Key, defaultOf(&k), marked(k.Why), strings.Join(by, ", "))
		}
	}
	return b.String()
}

// marked keeps Markdown from taking signs of a formula for its own.
func marked(text string) string {
	return strings.NewReplacer("*", `\*`, "_", `\_`, "|", `\|`, "[", `\[`, "<", `\<`).Replace(text)
}

// checkDoc and limitDoc are the JSON of a check and of a limit; numbers are in the unit of the setup file.
type checkDoc struct {
	Name     string     `json:"name"`
	Group    string     `json:"group"`
	Asks     string     `json:"asks"`
	Means    string     `json:"means"`
	Do       string     `json:"do"`
	Required bool       `json:"required"`
	Evidence string     `json:"evidence"`
	Formula  string     `json:"formula"`
	Limits   []limitDoc `json:"limits"`
	Source   string     `json:"source"`
}

type limitDoc struct {
	Key     string    `json:"key"`
	Unit    string    `json:"unit"`
	Default []float64 `json:"default"`
	Why     string    `json:"why"`
}

func checksJSON(w io.Writer, all []checks.Check) error {
	docs := make([]checkDoc, 0, len(all))
	for i := range all {
		c := &all[i]
		d := checkDoc{c.Name, string(c.Group), c.Asks, c.Means, c.Do, c.Required, c.Evidence, c.Formula, []limitDoc{}, c.Source}
		for _, k := range limitsOf(c) {
			n := 1
			if k.Range {
				n = 2
			}
			d.Limits = append(d.Limits, limitDoc{k.Key, k.Unit, slices.Clone(k.Default[:n]), k.Why})
		}
		docs = append(docs, d)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(docs)
}
