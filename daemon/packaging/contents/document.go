package main

import (
	"crypto/sha256"
	"fmt"
	"regexp"
	"strings"
	"time"
)

// The fields are those of SPDX 2.3 (ISO/IEC 5962 is 2.2.1), clauses 6, 7 and 11, in its JSON form.

const (
	noAssertion = "NOASSERTION"
	describesID = "SPDXRef-DOCUMENT"
	programID   = "SPDXRef-program"
)

type document struct {
	Version       string         `json:"spdxVersion"`
	DataLicence   string         `json:"dataLicense"`
	ID            string         `json:"SPDXID"`
	Name          string         `json:"name"`
	Namespace     string         `json:"documentNamespace"`
	Creation      creation       `json:"creationInfo"`
	Packages      []component    `json:"packages"`
	Relationships []relationship `json:"relationships"`
}

type creation struct {
	Created  string   `json:"created"` // UTC, to the second
	Creators []string `json:"creators"`
}

type component struct {
	Name             string        `json:"name"`
	ID               string        `json:"SPDXID"`
	Version          string        `json:"versionInfo"`
	FileName         string        `json:"packageFileName,omitempty"`
	Download         string        `json:"downloadLocation"`
	FilesAnalyzed    bool          `json:"filesAnalyzed"`
	Checksums        []checksum    `json:"checksums,omitempty"`
	LicenceConcluded string        `json:"licenseConcluded"`
	LicenceDeclared  string        `json:"licenseDeclared"`
	Copyright        string        `json:"copyrightText"`
	Comment          string        `json:"comment,omitempty"`
	Refs             []externalRef `json:"externalRefs,omitempty"`
	Purpose          string        `json:"primaryPackagePurpose"`
}

type checksum struct {
	Algorithm string `json:"algorithm"`
	Value     string `json:"checksumValue"`
}

type externalRef struct {
	Category string `json:"referenceCategory"`
	Type     string `json:"referenceType"`
	Locator  string `json:"referenceLocator"`
}

type relationship struct {
	From string `json:"spdxElementId"`
	Kind string `json:"relationshipType"`
	To   string `json:"relatedSpdxElement"`
}

// newDocument lists the parts of a program. Its name space is made of the program's own
// hash, so that no two programs share one and the same program keeps its own.
func newDocument(p *program, at time.Time) document {
	space := sha256.Sum256([]byte("plumbline spdx " + p.name + " " + p.sha256))
	space[6], space[8] = space[6]&0x0F|0x80, space[8]&0x3F|0x80 // a UUID of version 8, RFC 9562
	d := document{
		Version: "SPDX-2.3", DataLicence: "CC0-1.0", ID: describesID, Name: p.name,
		Namespace: fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", space[:4], space[4:6], space[6:8], space[8:10], space[10:16]),
		Creation:  creation{Created: at.UTC().Format(time.RFC3339), Creators: []string{"Tool: plumbline-contents"}},
		Packages: []component{{
			Name: "plumbline", ID: programID, Version: p.version, FileName: p.name, Download: noAssertion,
			Checksums:        []checksum{{"SHA256", p.sha256}},
			LicenceConcluded: noAssertion, LicenceDeclared: "Apache-2.0", Copyright: noAssertion, Purpose: "APPLICATION",
		}},
		Relationships: []relationship{{describesID, "DESCRIBES", programID}},
	}
	for i := range p.parts {
		c := newComponent(&p.parts[i])
		d.Packages = append(d.Packages, c)
		d.Relationships = append(d.Relationships, relationship{programID, "DEPENDS_ON", c.ID})
	}
	return d
}

// notInID is what an identifier of SPDX must not hold (clause 7.2).
var notInID = regexp.MustCompile(`[^A-Za-z0-9.-]+`)

func newComponent(p *part) component {
	url := "pkg:golang/" + strings.ReplaceAll(p.path, "!", "%21") + "@" + strings.ReplaceAll(p.version, "+", "%2B")
	if p.path == "std" {
		url = "pkg:golang/stdlib@" + p.version // as scanners of vulnerabilities call it
	}
	c := component{
		Name: p.path, ID: "SPDXRef-" + notInID.ReplaceAllString(p.path, "-"), Version: p.version, Download: noAssertion,
		LicenceConcluded: noAssertion, LicenceDeclared: p.licence(), Copyright: noAssertion, Purpose: "LIBRARY",
		Refs: []externalRef{{"PACKAGE-MANAGER", "purl", url}},
	}
	if p.sum != "" {
		c.Comment = "go.sum: " + p.sum
	}
	return c
}
