package record

import (
	"path/filepath"

	"github.com/klauspost/compress/zstd"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// part is the file being written. Everything up to good was written as whole
// blocks, everything up to synced is safe.
type part struct {
	file   file
	path   string
	number int
	pack   *zstd.Encoder // nil: plain
	packed []byte

	good, synced int64
	torn         bool     // a write ended behind good
	tornBy       *segment // what that write was of; nil: of nothing that was heard

	waiting []*segment // between synced and good
	syncing int        // of them, under the sync that runs
	upto    int64      // where that sync ends

	settled   bool // something that was heard is safe in it
	described int  // interfaces
	counts    []count
	first     int64
	last      int64
	any       bool
}

// put writes whole blocks. Each call is a zstd frame of its own, so that a file
// that is cut loses only the last one.
func (p *part) put(blocks []byte) error {
	if len(blocks) == 0 {
		return nil
	}
	if p.pack != nil {
		p.packed = p.pack.EncodeAll(blocks, p.packed[:0])
		blocks = p.packed
	}
	n, err := p.file.Write(blocks)
	if err != nil {
		p.torn = n > 0
		return err
	}
	p.good += int64(len(blocks))
	return nil
}

// write writes a segment and keeps it until it is safe. It returns the segment
// if its content went into another one.
func (p *part) write(s *segment) (free *segment, err error) {
	if err := p.put(s.buf); err != nil {
		if p.torn {
			p.tornBy = s
		}
		return nil, err
	}
	p.described = max(p.described, s.upto)
	if s.any {
		p.span(s.first)
		p.span(s.last)
	}
	for n := range s.counts {
		of(&p.counts, n).add(&s.counts[n])
	}
	if k := len(p.waiting); k > p.syncing && p.waiting[k-1].merge(s) {
		s.reset()
		return s, nil
	}
	p.waiting = append(p.waiting, s)
	return nil, nil
}

func (p *part) span(at int64) {
	if !p.any {
		p.first, p.any = at, true
	}
	p.last = at
}

// safe takes note that a sync has ended well and returns what it made safe.
func (p *part) safe(upto int64, n int) []*segment {
	done := p.waiting[:n]
	p.waiting = p.waiting[n:]
	p.synced = max(p.synced, upto)
	p.syncing = 0
	if n > 0 {
		p.settled = true
	}
	return done
}

// statistics returns the blocks that end a part.
func (p *part) statistics(ifaces []uint32) []byte {
	var out []byte
	for source, iface := range ifaces {
		if int(iface) >= p.described {
			continue
		}
		c := of(&p.counts, source)
		s := pcapng.Statistics{First: p.first, Last: p.last, Delivered: c.frames}
		for place := range places {
			if bus.Place(place) <= bus.Driver {
				s.LostBefore += c.lost[place]
			} else {
				s.LostBehind += c.lost[place]
			}
		}
		out = pcapng.AppendStatistics(out, iface, &s)
	}
	return out
}

// time is the stretch of event time that it holds; the zero value where that is not one.
func (p *part) time() window {
	if !p.any || p.first > p.last {
		return window{}
	}
	return window{p.first, p.last}
}

func (p *part) base() string { return filepath.Base(p.path) }
