package daemon

import (
	"errors"
	"fmt"

	"plumbline/bus"
	"plumbline/bus/serialport"
	"plumbline/bus/socketcan"
	"plumbline/daemon/setup"
)

// openLive opens all sources of a setup; names are those of serial ports, of which the bytes are recorded. Where
// everything is wanted, as for a recording, the kernel passes every frame, else only those that the setup names.
func openLive(b *Bench, everything bool) (sources []bus.Source, names []string, err error) {
	defer func() {
		if err != nil {
			for _, s := range sources {
				err = errors.Join(err, s.Close())
			}
		}
	}()
	var can socketcan.Config
	for i := range b.setup.Sources {
		if s := &b.setup.Sources[i]; s.Kind == setup.CAN {
			in := socketcan.Interface{Name: s.Interface, Adapter: s.Adapter}
			if s.Hardware {
				in.Stamps = socketcan.Hardware
			}
			if !everything {
				in.Filters = b.filters()
			}
			can.Interfaces = append(can.Interfaces, in)
		}
	}
	if len(can.Interfaces) > 0 {
		r, err := socketcan.Open(can)
		if err != nil {
			return sources, nil, err
		}
		sources = append(sources, r)
	}
	for i := range b.setup.Sources {
		switch s := &b.setup.Sources[i]; s.Kind {
		case setup.CAN: // all of them by one reader, above
		case setup.Serial:
			r, err := serialport.Open(serialport.Config{Path: s.Interface, Name: s.Match, Baud: s.Baud, Format: s.Format})
			if err != nil {
				return sources, nil, fmt.Errorf("source %s: %w", s.Name, err)
			}
			sources = append(sources, r)
			names = append(names, s.Match)
		}
	}
	return sources, names, nil
}

// filters lists what the setup wants of all its CAN sources: each interface passes what belongs to the others
// too, so that exchanged adapters show.
func (b *Bench) filters() []socketcan.Filter {
	var out []socketcan.Filter
	for _, m := range b.plan.Messages() {
		if b.setup.Sources[m.Source].Kind == setup.CAN {
			out = append(out, socketcan.Filter{ID: m.Message.ID, Extended: m.Message.Extended, PGN: m.PGN})
		}
	}
	return out
}
