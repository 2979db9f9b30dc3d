package report

import (
	"slices"
	"strings"

	"plumbline/daemon"
)

// point is what several findings say in the same words.
type point struct {
	check          string
	subjects       []string
	channels       []string
	sentence, next string
}

// label names what the point is about.
func (p *point) label() string {
	label := strings.Join(p.subjects, ", ") + " " + p.check
	if len(p.channels) > 0 {
		label += " " + strings.Join(p.channels, ", ")
	}
	return label
}

// merge collects the findings that want says, once for what is said in the same
// words: first over the channels of a subject, then over subjects whose channels
// agree. The order is that of the findings.
func merge(findings []daemon.Finding, want func(*daemon.Finding) bool) []point {
	var perSubject []point
	for i := range findings {
		f := &findings[i]
		if !want(f) {
			continue
		}
		j := slices.IndexFunc(perSubject, func(p point) bool {
			return p.check == f.Check && p.sentence == f.Sentence && p.next == f.Next && p.subjects[0] == f.Subject
		})
		if j < 0 {
			j = len(perSubject)
			perSubject = append(perSubject, point{check: f.Check, subjects: []string{f.Subject}, sentence: f.Sentence, next: f.Next})
		}
		if f.Channel != "" {
			perSubject[j].channels = append(perSubject[j].channels, f.Channel)
		}
	}
	var points []point
	for _, p := range perSubject {
		j := slices.IndexFunc(points, func(q point) bool {
			return p.check == q.check && p.sentence == q.sentence && p.next == q.next && slices.Equal(p.channels, q.channels)
		})
		if j < 0 {
			points = append(points, p)
			continue
		}
		points[j].subjects = append(points[j].subjects, p.subjects...)
	}
	return points
}
