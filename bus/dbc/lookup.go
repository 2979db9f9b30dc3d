package dbc

import "plumbline/bus"

// table finds the messages of one source. Standard identifiers index a dense
// table; extended ones and parameter groups are hashed.
type table struct {
	standard []uint16 // by identifier: plan message + 1; nil: none
	extended hash
	groups   hash // by parameter group number
}

// Lookup returns the index of the plan message that the frame carries, −1 if
// there is none. Source, identifier and format must be those of the message.
// Of messages matched by parameter group the PGN must be the same, whatever
// priority and source address; a message with that very identifier comes first.
// Error and remote frames carry no message.
func (p *Plan) Lookup(f *bus.Frame) int {
	if int(f.Source) >= len(p.tables) || f.Flags&(bus.Error|bus.Remote) != 0 {
		return -1
	}
	t := &p.tables[f.Source]
	if f.Flags&bus.Extended == 0 {
		if int(f.ID) < len(t.standard) {
			return int(t.standard[f.ID]) - 1
		}
		return -1
	}
	if m := t.extended.find(f.ID); m >= 0 || len(t.groups.slots) == 0 {
		return m
	}
	return t.groups.find(pgn(f.ID))
}

// pgn returns the parameter group number of a 29-bit identifier after SAE
// J1939-21: priority (3 bits), extended data page, data page, PDU format,
// PDU specific, source address (8 bits). A PDU format below 240 is sent to one
// address, which stands in the place of PDU specific and is not part of the number.
func pgn(id uint32) uint32 {
	group := id >> 8 & 0x3FFFF
	if group>>8&0xFF < 240 {
		group &^= 0xFF
	}
	return group
}

// hash is an open-addressing hash of up to 29-bit keys, at most half full.
type hash struct {
	slots []slot // a power of two, or none
	shift uint8
}

type slot struct {
	key     uint32
	message int32 // +1; 0: free
}

// start is multiplicative hashing (Knuth, The Art of Computer Programming 3, 6.4).
func (h *hash) start(key uint32) uint32 { return key * 0x9E3779B1 >> h.shift }

func (h *hash) find(key uint32) int {
	if len(h.slots) == 0 {
		return -1
	}
	mask := uint32(len(h.slots) - 1)
	for i := h.start(key); ; i++ {
		s := &h.slots[i&mask]
		if s.key == key || s.message == 0 {
			return int(s.message) - 1
		}
	}
}

// newHash makes the hash of keys that differ.
func newHash(keys map[uint32]int) hash {
	if len(keys) == 0 {
		return hash{}
	}
	bits := 1
	for 1<<bits < 2*len(keys) {
		bits++
	}
	h := hash{slots: make([]slot, 1<<bits), shift: uint8(32 - bits)}
	mask := uint32(len(h.slots) - 1)
	for key, m := range keys {
		i := h.start(key)
		for h.slots[i&mask].message != 0 {
			i++
		}
		h.slots[i&mask] = slot{key, int32(m) + 1}
	}
	return h
}
