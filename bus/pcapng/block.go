package pcapng

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// MaxBlock is the longest block that is read, in bytes. A block that claims
// more is taken for damage: 64 bytes of CAN data and some comments are far less.
const MaxBlock = 1 << 20

// The block types that matter here (draft-ietf-opsawg-pcapng, section 4).
const (
	blockInterface  = 0x00000001
	blockPacket     = 0x00000002 // obsolete, still found
	blockSimple     = 0x00000003
	blockStatistics = 0x00000005
	blockEnhanced   = 0x00000006
	blockSection    = 0x0A0D0D0A
)

const (
	byteOrderMagic = 0x1A2B3C4D
	blockHead      = 8  // type, length
	blockFrame     = 12 // type, length … length
	sectionMin     = 28 // shortest section header, in bytes

	// maxResync is the longest block that ends a search after damage. It
	// keeps what one candidate costs small.
	maxResync = 1 << 16
)

// damageError says that the bytes at the current place are no block.
type damageError struct{ what string }

func (e *damageError) Error() string { return e.what }

// errCut says that the input ends inside the current block.
var errCut = errors.New("the recording ends inside this block")

// bufferSize stays in the processor's cache. Where a block is longer, the buffer grows, up to MaxBlock.
const bufferSize = 256 << 10

// blocks cuts a stream into pcapng blocks. It keeps no more than its buffer.
type blocks struct {
	in      *bufio.Reader
	big     bool  // byte order of the section
	number  int   // of the current block, from 1
	at      int64 // byte offset of the current block
	pending int   // bytes of the current block, given back before the next is taken
}

func newBlocks(r io.Reader) blocks {
	return blocks{in: bufio.NewReaderSize(r, bufferSize)}
}

// peek returns the next n bytes, at most MaxBlock. Only bytes that have come make the buffer grow: a length alone does not.
func (b *blocks) peek(n int) ([]byte, error) {
	for n > b.in.Size() {
		if p, err := b.in.Peek(b.in.Size()); err != nil {
			return p, err
		}
		b.in = bufio.NewReaderSize(b.in, 2*b.in.Size()) // what the one before holds comes first
	}
	return b.in.Peek(n)
}

// atHand leaves the current block behind and returns what can be had without reading on.
func (b *blocks) atHand() []byte {
	if b.pending > 0 {
		_ = b.advance(b.pending) // it is in the buffer
		b.pending = 0
	}
	p, _ := b.in.Peek(b.in.Buffered()) // that much is there
	return p
}

// pass leaves n bytes behind that atHand has returned, so many blocks.
func (b *blocks) pass(n, blocks int) {
	_ = b.advance(n) // it is in the buffer
	b.number += blocks
}

func (b *blocks) uint16(p []byte) uint16 {
	if b.big {
		return binary.BigEndian.Uint16(p)
	}
	return binary.LittleEndian.Uint16(p)
}

func (b *blocks) uint32(p []byte) uint32 {
	if b.big {
		return binary.BigEndian.Uint32(p)
	}
	return binary.LittleEndian.Uint32(p)
}

func (b *blocks) uint64(p []byte) uint64 {
	if b.big {
		return binary.BigEndian.Uint64(p)
	}
	return binary.LittleEndian.Uint64(p)
}

// advance leaves the current block behind.
func (b *blocks) advance(n int) error {
	done, err := b.in.Discard(n)
	b.at += int64(done)
	return err
}

// next returns type and body of the next block; the body is valid until the
// next call. After a section header, b.big is that of the new section. Errors:
// io.EOF between two blocks, errCut, a *damageError, or what the input says.
// After errCut and damage the place is the start of the block that was not read.
func (b *blocks) next() (kind uint32, body []byte, err error) {
	if b.pending > 0 {
		n := b.pending
		b.pending = 0
		if err := b.advance(n); err != nil {
			return 0, nil, err
		}
	}
	b.number++
	head, err := b.in.Peek(blockFrame)
	if err != nil {
		if !errors.Is(err, io.EOF) {
			return 0, nil, err
		}
		if len(head) == 0 {
			return 0, nil, io.EOF
		}
		return 0, nil, errCut
	}
	kind, length, err := b.head(head)
	if err != nil {
		return kind, nil, err
	}
	block, err := b.peek(length)
	if err != nil {
		if errors.Is(err, io.EOF) {
			return kind, nil, errCut
		}
		return kind, nil, err
	}
	if end := b.uint32(block[length-4:]); end != uint32(length) {
		return kind, nil, &damageError{fmt.Sprintf("its length is %d at the front and %d at the end", length, end)}
	}
	b.pending = length
	return kind, block[blockHead : length-4], nil
}

// head reads type and length from the first 12 bytes of a block. At a section
// header it takes over the byte order.
func (b *blocks) head(p []byte) (kind uint32, length int, err error) {
	kind = b.uint32(p)
	shortest := blockFrame
	if kind == blockSection { // the same in both byte orders
		shortest = sectionMin
		switch {
		case binary.BigEndian.Uint32(p[8:]) == byteOrderMagic:
			b.big = true
		case binary.LittleEndian.Uint32(p[8:]) == byteOrderMagic:
			b.big = false
		default:
			return kind, 0, &damageError{"a section header with no byte order in it"}
		}
	}
	n := b.uint32(p[4:])
	if n < uint32(shortest) || n > MaxBlock || n%4 != 0 {
		return kind, 0, &damageError{fmt.Sprintf("%d is not a possible length", n)}
	}
	return kind, int(n), nil
}

// buffered reports whether the next block can be had without reading on.
func (b *blocks) buffered() bool {
	have := b.in.Buffered() - b.pending
	if have < blockFrame {
		return false
	}
	p, err := b.in.Peek(b.pending + blockFrame)
	if err != nil {
		return false
	}
	// A wrong length is told by next, which does not have to wait for it.
	n := b.uint32(p[b.pending+4:])
	return n > MaxBlock || int(n) <= have
}

// resync looks for the next whole block after damage and stops in front of it.
// It returns how many bytes it passed, and io.EOF when there is no such block.
func (b *blocks) resync() (skipped int64, err error) {
	ended := false
	for first := true; ; first = false {
		window, err := b.in.Peek(max(blockFrame, b.in.Buffered()))
		if err != nil {
			if !errors.Is(err, io.EOF) {
				return skipped, err
			}
			ended = true
		}
		i := 0
		if first {
			i = 1 // never the block that is damaged
		}
		for i+blockFrame <= len(window) && !b.candidate(window[i:]) {
			i++
		}
		if i+blockFrame > len(window) {
			if ended {
				i = len(window)
			}
			// up to 11 bytes stay: a block may begin in them
			if err := b.advance(i); err != nil {
				return skipped, err
			}
			skipped += int64(i)
			if ended {
				return skipped, io.EOF
			}
			continue
		}
		if err := b.advance(i); err != nil {
			return skipped, err
		}
		skipped += int64(i)
		ok, err := b.confirmed()
		if ok || err != nil {
			return skipped, err
		}
		if err := b.advance(1); err != nil {
			return skipped, err
		}
		skipped++
	}
}

// candidate reports whether a block of a known type may begin with the 12 bytes p.
func (b *blocks) candidate(p []byte) bool {
	kind := b.uint32(p)
	big := b.big
	switch kind {
	case blockInterface, blockPacket, blockSimple, blockStatistics, blockEnhanced:
	case blockSection:
		if binary.BigEndian.Uint32(p[8:]) == byteOrderMagic {
			big = true
		} else if binary.LittleEndian.Uint32(p[8:]) == byteOrderMagic {
			big = false
		} else {
			return false
		}
	default:
		return false
	}
	at := blocks{big: big}
	n := at.uint32(p[4:])
	return n >= 16 && n <= maxResync && n%4 == 0
}

// confirmed reports whether the candidate at the current place is whole and
// ends with its length.
func (b *blocks) confirmed() (bool, error) {
	was := b.big
	p, err := b.in.Peek(blockFrame)
	if err != nil {
		return false, eofIsNil(err)
	}
	_, length, err := b.head(p)
	if err == nil {
		p, err := b.peek(length)
		if err == nil && b.uint32(p[length-4:]) == uint32(length) {
			return true, nil
		}
		if err := eofIsNil(err); err != nil {
			return false, err
		}
	}
	b.big = was
	return false, nil
}

func eofIsNil(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}
