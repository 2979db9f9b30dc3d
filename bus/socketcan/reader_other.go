//go:build !linux

package socketcan

import (
	"errors"

	"plumbline/bus"
)

var errLinuxOnly = errors.New("socketcan: SocketCAN interfaces exist on Linux only; use a recording, or an adapter that is a serial port")

// Reader exists so that programs build; Open never returns one.
type Reader struct{}

// Open returns an error that says so.
func Open(Config) (*Reader, error) { return nil, errLinuxOnly }

// Read returns the error of Open.
func (*Reader) Read(*bus.Batch) error { return errLinuxOnly }

// Names returns nothing.
func (*Reader) Names() []string { return nil }

// Info returns nothing.
func (*Reader) Info() []Info { return nil }

// Close does nothing.
func (*Reader) Close() error { return nil }
