package daemon

import (
	"fmt"

	"plumbline/bus/dbc"
	"plumbline/daemon/setup"
)

// Bench is a setup made ready to judge by. It is read-only and may be shared
// between goroutines; each capture and each live source gets a [Judge] of its own.
type Bench struct {
	setup    *setup.Setup
	program  string
	plan     *dbc.Plan
	messages []int // by message of the plan: index into the setup's messages
}

// NewBench prepares a setup. program is the name and version that results carry.
// An error means that the setup's bindings cannot be decoded together.
func NewBench(s *setup.Setup, program string) (*Bench, error) {
	plan, err := dbc.Compile(s.Bindings)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.File, err)
	}
	b := &Bench{setup: s, program: program, plan: plan}
	for _, m := range plan.Messages() {
		b.messages = append(b.messages, s.Checks.Channels[m.Channels[0]].Message)
	}
	return b, nil
}

// File names the setup.
func (b *Bench) File() SetupFile {
	return SetupFile{File: b.setup.File, SHA256: b.setup.SHA256, Vehicle: b.setup.Vehicle}
}

// result returns a result of this setup without findings.
func (b *Bench) result(c Capture) Result {
	r := Result{
		Schema: Schema, Program: b.program,
		Setup:    b.File(),
		Captures: []Capture{c}, Transducers: transducers(b.setup),
		Findings: []Finding{}, Causes: []Cause{}, Open: []string{}, Confirmations: []Confirmation{},
	}
	for i := range b.setup.Confirm {
		r.Confirmations = append(r.Confirmations, confirmation(&b.setup.Confirm[i]))
	}
	return r
}

// retimed says of which sources the sample times are not those at which bytes arrived.
func (b *Bench) retimed() []string {
	var out []string
	for i := range b.setup.Sources {
		if s := &b.setup.Sources[i]; len(s.Format.Retime) > 0 {
			out = append(out, fmt.Sprintf("source %s: sample times are reconstructed from period and counter, as its layout asks: its adapter delivers in bursts", s.Name))
		}
	}
	return out
}
