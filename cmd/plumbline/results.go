package main

import (
	"log/slog"
	"path/filepath"

	"plumbline/daemon"
	"plumbline/daemon/results"
	"plumbline/daemon/setup"
)

// recordingsIn is the folder of what is recorded so that a signed test has its recording.
const recordingsIn = "recording"

// keeping is where tests are kept.
type keeping struct {
	store  *results.Store // nil: nothing is signed
	record string         // folder to record into; empty: the one of the setup, or none
	test   *daemon.Test
}

// reread returns how the setup is read: on a reload what of it is taken up at the next start alone is told.
// asked says that --results was given, taped that --record was.
func reread(path string, first *setup.Setup, asked, taped bool, log *slog.Logger) func() (*setup.Setup, error) {
	told := first.Results
	return func() (*setup.Setup, error) {
		s, err := setup.Load(path)
		if err != nil {
			return nil, err
		}
		if !asked && s.Results != told {
			told = s.Results
			if told != first.Results {
				log.Warn("results: has changed in the setup, and is taken up at the next start: restart plumbline", "used_until_then", orNone(first.Results), "then", orNone(told))
			}
		}
		if !taped && (asked || first.Results != "") && (first.Record == nil || first.Record.Dir == "") && s.Record != nil && s.Record.Dir != "" {
			log.Warn("record: of the setup now names a folder, which is taken up at the next start: restart plumbline", "then", s.Record.Dir)
		}
		return s, nil
	}
}

// keep opens what a folder of results needs. dir is that folder, asked the one of --record, said the one that the
// setup says; each may be empty. A folder that cannot be had is no reason not to listen: it is told.
func keep(dir, asked, said string, log *slog.Logger) keeping {
	k := keeping{record: asked}
	state := dir
	switch {
	case asked == noPage:
		k.record = ""
	case asked == "" && said == "" && dir != "":
		k.record = filepath.Join(dir, recordingsIn)
	}
	if state == "" {
		if state = k.record; asked == "" {
			state = said
		}
	}
	if dir != "" {
		store, err := results.Open(dir, log)
		if err != nil {
			log.Error("tests cannot be signed", "error", err)
		} else {
			k.store = store
		}
	}
	if k.test = daemon.NewTest(); state != "" {
		k.test = daemon.OpenTest(state, log)
	}
	return k
}
