package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"slices"
	"strings"
)

// part is the standard library or a module that a program was built of.
type part struct {
	path, version string
	sum           string            // of go.sum, "h1:…"; empty for the standard library
	texts         map[string]string // licences and notices by the name of their file
}

// partsOf lists what a program was built of, with its licences.
func partsOf(info *debug.BuildInfo) ([]part, error) {
	root, err := goCommand("env", "GOROOT")
	if err != nil {
		return nil, err
	}
	std := part{path: "std", version: strings.TrimPrefix(info.GoVersion, "go")}
	if std.texts, err = licences(strings.TrimSpace(string(root))); err != nil {
		return nil, err
	}
	parts := []part{std}
	for _, d := range info.Deps {
		if d.Replace != nil {
			d = d.Replace
		}
		p := part{path: d.Path, version: d.Version, sum: d.Sum}
		dir, err := folder(&p)
		if err != nil {
			return nil, err
		}
		if p.texts, err = licences(dir); err != nil {
			return nil, err
		}
		if len(p.texts) == 0 {
			return nil, fmt.Errorf("%s %s has no licence in %s: it cannot be passed on", p.path, p.version, dir)
		}
		parts = append(parts, p)
	}
	slices.SortFunc(parts[1:], func(a, b part) int { return strings.Compare(a.path, b.path) })
	return parts, nil
}

// folder returns where the Go command keeps a module.
func folder(p *part) (string, error) {
	text, err := goCommand("mod", "download", "-json", p.path+"@"+p.version)
	if err != nil {
		return "", err
	}
	var found struct{ Dir string }
	return found.Dir, json.Unmarshal(text, &found)
}

func goCommand(args ...string) ([]byte, error) {
	c := exec.Command("go", args...) //nolint:noctx,gosec // it ends by itself; its arguments are modules that the Go compiler named
	c.Stderr = os.Stderr
	text, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("go %s: %w", strings.Join(args, " "), err)
	}
	return text, nil
}

// licenceFile is how files are called that must go with what was built of a module.
var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)([.-].*)?$`)

// licences reads the licences and notices in a folder; those of parts of a module stand deeper and are not looked for.
func licences(dir string) (map[string]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	texts := map[string]string{}
	for _, e := range entries {
		if e.IsDir() || !licenceFile.MatchString(e.Name()) || strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		texts[e.Name()] = strings.TrimSpace(strings.ReplaceAll(string(text), "\r\n", "\n"))
	}
	return texts, nil
}

// licence names the licences of a part as SPDX does, by sentences that each of them has; NOASSERTION where none is recognised.
func (p *part) licence() string {
	var found []string
	for _, name := range p.files() {
		if low := strings.ToLower(name); strings.HasPrefix(low, "notice") || strings.HasPrefix(low, "patents") {
			continue
		}
		text := strings.Join(strings.Fields(p.texts[name]), " ")
		has := func(words string) bool { return strings.Contains(text, words) }
		bsd, three := has("Redistribution and use in source and binary forms"), has("Neither the name") || has("may not be used to endorse")
		for id, is := range map[string]bool{
			"Apache-2.0":   has("Apache License Version 2.0") || has("Apache License, Version 2.0"),
			"BSD-2-Clause": bsd && !three,
			"BSD-3-Clause": bsd && three,
			"ISC":          has("Permission to use, copy, modify, and"),
			"MIT":          has("Permission is hereby granted, free of charge, to any person"),
			"MPL-2.0":      has("Mozilla Public License Version 2.0"),
		} {
			if is && !slices.Contains(found, id) {
				found = append(found, id)
			}
		}
	}
	slices.Sort(found)
	switch len(found) {
	case 0:
		return noAssertion
	case 1:
		return found[0]
	}
	return "(" + strings.Join(found, " AND ") + ")"
}

// files lists the names of the texts in one order.
func (p *part) files() []string {
	names := make([]string, 0, len(p.texts))
	for name := range p.texts {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// notices writes the licences of all parts of all programs, each once.
func notices(w io.Writer, programs []string) error {
	all := map[string]part{}
	for _, file := range programs {
		p, err := read(file)
		if err != nil {
			return err
		}
		for _, part := range p.parts {
			all[part.path+" "+part.version] = part
		}
	}
	keys := make([]string, 0, len(all))
	for key := range all {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	fmt.Fprintf(w, "plumbline is under the Apache License 2.0 (on Debian: /usr/share/common-licenses/Apache-2.0).\n\n"+
		"The program is built of it and of the following %d parts, under the terms that follow each.\n", len(keys))
	for _, key := range keys {
		p := all[key]
		fmt.Fprintf(w, "\n%s\n%s (%s)\n", strings.Repeat("=", 78), key, p.licence())
		for _, name := range p.files() {
			fmt.Fprintf(w, "\n-- %s\n\n%s\n", name, p.texts[name])
		}
	}
	return nil
}
