package daemon

import (
	"fmt"

	"plumbline/bus"
	"plumbline/bus/candump"
)

// Recorded returns src with all that it delivers written to w as well: frames,
// marks and losses; what else is said between frames is not part of a recording. Read fails when w does.
// The caller flushes w after the end.
func Recorded(src bus.Source, w *candump.Writer) bus.Source { return &recorded{src, w} }

type recorded struct {
	bus.Source
	w *candump.Writer
}

// Read reads a batch and writes it down.
func (r *recorded) Read(b *bus.Batch) error {
	if err := r.Source.Read(b); err != nil {
		return err
	}
	r.w.SetNames(r.Names())
	next := 0
	for i := range b.Frames {
		for ; next < len(b.Notes) && b.Notes[next].Before <= i; next++ {
			if err := r.note(&b.Notes[next]); err != nil {
				return err
			}
		}
		if err := r.w.Write(&b.Frames[i]); err != nil {
			return fmt.Errorf("recording: %w", err)
		}
	}
	for ; next < len(b.Notes); next++ {
		if err := r.note(&b.Notes[next]); err != nil {
			return err
		}
	}
	return nil
}

func (r *recorded) note(n *bus.Note) error {
	var err error
	switch n.Kind {
	case bus.Mark:
		err = r.w.Mark(n.Text)
	case bus.Loss:
		err = r.w.Loss(n.Source, n.Count)
	case bus.Warning, bus.LinkChanged, bus.Clock, bus.Garbage, bus.Tick, bus.Told, bus.BothClocks: // said of the input, not heard on the bus
	}
	if err != nil {
		return fmt.Errorf("recording: %w", err)
	}
	return nil
}
