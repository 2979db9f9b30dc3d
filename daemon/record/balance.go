package record

import "plumbline/bus"

// Balance counts the frames of one source on their way. It closes:
// Received is Written + Pending + Lost[bus.Recorder].
type Balance struct {
	Source   string
	Received uint64         // frames that were heard; of a serial port those cut from its bytes
	Bytes    uint64         // of a serial port, heard
	Written  uint64         // frames that are safe on the disk
	Pending  uint64         // frames on their way there
	Lost     [places]uint64 // frames by [bus.Place]; those lost before the recorder were not received
}

// Sent returns how many frames there must have been on the bus: those received
// and those lost on the way here.
func (b *Balance) Sent() uint64 {
	n := b.Received
	for place := range bus.Recorder {
		n += b.Lost[place]
	}
	return n
}

// Balances keep the balance of every source. Used without a recorder, nothing is
// pending or written. It is used by one goroutine.
type Balances struct{ list []Balance }

// Add counts what a batch brings. names are those of its source.
func (s *Balances) Add(b *bus.Batch, names []string) {
	s.know(names)
	for i := range b.Frames {
		if n := int(b.Frames[i].Source); n < len(s.list) {
			s.list[n].Received++
		}
	}
	for i := range b.Chunks {
		if n := int(b.Chunks[i].Source); n < len(s.list) {
			s.list[n].Bytes += uint64(len(b.Chunks[i].Data))
		}
	}
	for i := range b.Notes {
		s.loss(&b.Notes[i])
	}
}

// List returns the balances in the order of the names, as they stand.
func (s *Balances) List() []Balance { return append([]Balance(nil), s.list...) }

// know takes in names that are new.
func (s *Balances) know(names []string) {
	for len(s.list) < len(names) {
		s.list = append(s.list, Balance{Source: names[len(s.list)]})
	}
}

func (s *Balances) loss(n *bus.Note) {
	if n.Kind == bus.Loss && int(n.Source) < len(s.list) && int(n.Place) < places {
		s.list[n.Source].Lost[n.Place] += n.Count
	}
}
