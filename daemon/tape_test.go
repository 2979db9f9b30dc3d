package daemon

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// TestTape: what a person asks for on the command line goes before what the setup says.
func TestTape(t *testing.T) {
	says := &setup.Record{Dir: "/setup", Keep: 20e9, PartBytes: 100e6, Zstd: true}
	for _, test := range []struct {
		name  string
		cfg   Config
		setup *setup.Record
		want  record.Config
	}{
		{"neither", Config{}, nil, record.Config{}},
		{"the setup", Config{}, says, record.Config{Dir: "/setup", Keep: 20e9, PartBytes: 100e6, Zstd: true}},
		{"a time", Config{}, &setup.Record{Dir: "/setup", PartTime: time.Minute}, record.Config{Dir: "/setup", PartTime: time.Minute}},
		{"flags alone", Config{Record: record.Config{Dir: "/flag", Keep: 1e9, Zstd: true}}, nil, record.Config{Dir: "/flag", Keep: 1e9, Zstd: true}},
		{"flags first", Config{Record: record.Config{Dir: "/flag", Keep: 1e9}, Plain: true}, says, record.Config{Dir: "/flag", Keep: 1e9, PartBytes: 100e6}},
		{"less kept than two parts", Config{Record: record.Config{Keep: 150e6}}, says, record.Config{Dir: "/setup", Keep: 150e6, Zstd: true}},
		{"none", Config{Record: record.Config{Dir: "none"}, Silent: true}, says, record.Config{}},
	} {
		got := test.cfg.tape(&setup.Setup{Record: test.setup})
		if diff := cmp.Diff(got, test.want, cmpopts.IgnoreUnexported(record.Config{})); diff != "" {
			t.Errorf("%s: got before want:\n%s", test.name, diff)
		}
		if got.Dir != "" {
			if err := got.Validate(); err != nil {
				t.Errorf("%s: %v", test.name, err)
			}
		}
	}
}

// TestMissed: a recording that is not whole is told in the result.
func TestMissed(t *testing.T) {
	for _, test := range []struct {
		stats record.Stats
		want  []string
	}{
		{record.Stats{State: record.Recording, Frames: 7}, nil},
		{record.Stats{State: record.Stopped, Why: "the disk is full"}, []string{"nothing is recorded at the moment: the disk is full"}},
		{record.Stats{State: record.Recording, Lost: 1}, []string{"not in the recording, though heard and judged: 1 frame"}},
		{record.Stats{State: record.Stopped, Why: "x", Lost: 12}, []string{"nothing is recorded at the moment: x", "not in the recording, though heard and judged: 12 frames"}},
	} {
		if diff := cmp.Diff(missed(&test.stats), test.want); diff != "" {
			t.Errorf("%+v: got before want:\n%s", test.stats, diff)
		}
	}
}
