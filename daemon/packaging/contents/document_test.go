package main

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestDocument holds the document against what SPDX 2.3 asks for (clauses 6.1 to 6.9, 7.1 to 7.7 and 11.1). The JSON
// schema that the SPDX project publishes found no fault in one of these either.
func TestDocument(t *testing.T) {
	p := program{name: "plumbline-x", sha256: strings.Repeat("ab", 32), version: "v1.2.3", parts: []part{
		{path: "std", version: "1.26.8", texts: map[string]string{"LICENSE": "Redistribution and use in source and binary forms ... Neither the name"}},
		{path: "example.com/a_b/v2", version: "v2.0.0+incompatible", sum: "h1:xyz=", texts: map[string]string{"LICENSE": "?"}},
	}}
	d := newDocument(&p, time.Unix(1_795_826_995, 0))
	text, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{"spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT", "name": "plumbline-x"} {
		if got[key] != want {
			t.Errorf("%s: got %v, want %s", key, got[key], want)
		}
	}
	if want := "2026-11-28T00:49:55Z"; d.Creation.Created != want {
		t.Errorf("created: got %s, want %s", d.Creation.Created, want)
	}
	if !regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`).MatchString(d.Namespace) {
		t.Errorf("name space %q is no UUID of version 8", d.Namespace)
	}
	var ids []string
	for i := range d.Packages {
		c := &d.Packages[i]
		if !regexp.MustCompile(`^SPDXRef-[a-zA-Z0-9.-]+$`).MatchString(c.ID) || slices.Contains(ids, c.ID) {
			t.Errorf("identifier %q is not one, or is there twice", c.ID)
		}
		ids = append(ids, c.ID)
	}
	want := []relationship{
		{"SPDXRef-DOCUMENT", "DESCRIBES", "SPDXRef-program"},
		{"SPDXRef-program", "DEPENDS_ON", "SPDXRef-std"},
		{"SPDXRef-program", "DEPENDS_ON", "SPDXRef-example.com-a-b-v2"},
	}
	if diff := cmp.Diff(want, d.Relationships); diff != "" {
		t.Errorf("relationships (-want +got):\n%s", diff)
	}
	// package-url/purl-spec: + is written %2B; Go's own library is called stdlib
	if got := d.Packages[2].Refs[0].Locator; got != "pkg:golang/example.com/a_b/v2@v2.0.0%2Bincompatible" {
		t.Errorf("purl: got %s", got)
	}
	if got := d.Packages[1].Refs[0].Locator; got != "pkg:golang/stdlib@1.26.8" {
		t.Errorf("purl: got %s", got)
	}
	if got := d.Packages[2].LicenceDeclared; got != "NOASSERTION" {
		t.Errorf("a licence that nobody knows is called %s", got)
	}
	again := newDocument(&p, time.Unix(1_795_826_995, 0))
	if diff := cmp.Diff(d, again); diff != "" {
		t.Errorf("a second time it is another:\n%s", diff)
	}
}

func TestLicence(t *testing.T) {
	bsd := "Redistribution and use in source and\nbinary forms, with or without"
	for _, tt := range []struct {
		name  string
		texts map[string]string
		want  string
	}{
		{"none known", map[string]string{"LICENSE": "Do as you like"}, "NOASSERTION"},
		{"two clauses", map[string]string{"LICENSE": bsd}, "BSD-2-Clause"},
		{"three clauses", map[string]string{"LICENSE": bsd + " Neither the name of"}, "BSD-3-Clause"},
		{"broken over lines", map[string]string{"COPYING": "Apache License\n   Version 2.0, January 2004"}, "Apache-2.0"},
		{"two in one file", map[string]string{"LICENSE": "Permission is hereby granted, free of charge, to any person ... Apache License, Version 2.0"}, "(Apache-2.0 AND MIT)"},
		{"a notice is none", map[string]string{"LICENSE": "Mozilla Public License Version 2.0", "NOTICE": "Apache License, Version 2.0"}, "MPL-2.0"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := (&part{texts: tt.texts}).licence(); got != tt.want {
				t.Errorf("got %s, want %s", got, tt.want)
			}
		})
	}
}

// TestRun: on this test program itself, which says of its modules nothing, and on files that are no programs.
func TestRun(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("SOURCE_DATE_EPOCH", "1")
	for _, tt := range []struct {
		name string
		args []string
		code int
		out  string
		err  string
	}{
		{"bill", []string{"spdx", self}, 0, `"referenceLocator": "pkg:golang/stdlib@`, ""},
		{"notices", []string{"notices", self, self}, 0, "(BSD-3-Clause)\n\n-- LICENSE\n\nCopyright 2009 The Go Authors.", ""},
		{"no program", []string{"spdx", "doc.go"}, 1, "", "doc.go"},
		{"nothing", nil, 1, "", "expected spdx PROGRAM"},
		{"two", []string{"spdx", self, self}, 1, "", "expected spdx PROGRAM"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var out, errs bytes.Buffer
			code := run(tt.args, &out, &errs)
			if code != tt.code || !strings.Contains(out.String(), tt.out) || !strings.Contains(errs.String(), tt.err) {
				t.Errorf("got %d, %q, %.2000s", code, errs.String(), out.String())
			}
		})
	}
	t.Setenv("SOURCE_DATE_EPOCH", "")
	var out, errs bytes.Buffer
	if code := run([]string{"spdx", self}, &out, &errs); code != 1 || !strings.Contains(errs.String(), "SOURCE_DATE_EPOCH is not set") {
		t.Errorf("without a time: %d, %s", code, errs.String())
	}
}
