package main

import (
	"log/slog"
	"path/filepath"

	"plumbline/daemon"
	"plumbline/daemon/results"
)

// recordingsIn is the folder of what is recorded so that a signed test has its recording.
const recordingsIn = "recording"

// keeping is where tests are kept.
type keeping struct {
	store  *results.Store // nil: nothing is signed
	record string         // folder to record into; empty: the one of the setup, or none
	test   *daemon.Test
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
