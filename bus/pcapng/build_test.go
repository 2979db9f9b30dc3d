package pcapng_test

import (
	"encoding/binary"
	"errors"
	"io"
	"testing"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// builder writes pcapng by hand, in either byte order.
type builder struct {
	order binary.ByteOrder
	out   []byte
}

func little() *builder { return &builder{order: binary.LittleEndian} }
func big() *builder    { return &builder{order: binary.BigEndian} }

func (b *builder) u16(p []byte, v uint16) []byte {
	p = append(p, 0, 0)
	b.order.PutUint16(p[len(p)-2:], v)
	return p
}

func (b *builder) u32(p []byte, v uint32) []byte {
	p = append(p, 0, 0, 0, 0)
	b.order.PutUint32(p[len(p)-4:], v)
	return p
}

func (b *builder) u64(p []byte, v uint64) []byte {
	p = append(p, make([]byte, 8)...)
	b.order.PutUint64(p[len(p)-8:], v)
	return p
}

func pad(p []byte) []byte {
	for len(p)%4 != 0 {
		p = append(p, 0)
	}
	return p
}

// opt returns one option.
func (b *builder) opt(code uint16, value []byte) []byte {
	p := b.u16(nil, code)
	p = b.u16(p, uint16(len(value)))
	return pad(append(p, value...))
}

func (b *builder) block(kind uint32, body []byte) *builder {
	body = pad(body)
	p := b.u32(nil, kind)
	p = b.u32(p, uint32(len(body)+12))
	p = append(p, body...)
	b.out = append(b.out, b.u32(p, uint32(len(body)+12))...)
	return b
}

func (b *builder) section() *builder {
	p := b.u32(nil, 0x1A2B3C4D)
	p = b.u16(p, 1)
	p = b.u16(p, 0)
	return b.block(0x0A0D0D0A, b.u64(p, 1<<64-1))
}

func (b *builder) iface(link uint16, options ...[]byte) *builder {
	p := b.u16(nil, link)
	p = b.u16(p, 0)
	p = b.u32(p, 0)
	for _, o := range options {
		p = append(p, o...)
	}
	return b.block(1, p)
}

// packet writes an enhanced packet block.
func (b *builder) packet(index uint32, ticks uint64, data []byte, options ...[]byte) *builder {
	p := b.u32(nil, index)
	p = b.u32(p, uint32(ticks>>32))
	p = b.u32(p, uint32(ticks))
	p = b.u32(p, uint32(len(data)))
	p = b.u32(p, uint32(len(data)))
	p = pad(append(p, data...))
	for _, o := range options {
		p = append(p, o...)
	}
	return b.block(6, p)
}

func (b *builder) statistics(index uint32, ticks uint64, options ...[]byte) *builder {
	p := b.u32(nil, index)
	p = b.u32(p, uint32(ticks>>32))
	p = b.u32(p, uint32(ticks))
	for _, o := range options {
		p = append(p, o...)
	}
	return b.block(5, p)
}

// classic returns a SocketCAN packet of 16 bytes with a big-endian identifier.
func classic(id uint32, data ...byte) []byte {
	p := binary.BigEndian.AppendUint32(nil, id)
	p = append(p, byte(len(data)), 0, 0, 0)
	return append(append(p, data...), make([]byte, 8-len(data))...)
}

// everything reads a source to its end, in batches of size frames. Notes come
// with Before counted from the start of the recording.
func everything(tb testing.TB, r *pcapng.Reader, size int) (frames []bus.Frame, notes []bus.Note, err error) {
	tb.Helper()
	b := bus.Batch{Frames: make([]bus.Frame, 0, size)}
	for {
		err := r.Read(&b)
		if err != nil {
			if len(b.Frames)+len(b.Notes) > 0 {
				tb.Errorf("Read returned %v together with %d frames and %d notes", err, len(b.Frames), len(b.Notes))
			}
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return frames, notes, err
		}
		if len(b.Frames)+len(b.Notes) == 0 {
			tb.Fatal("Read returned nothing and no error")
		}
		for _, n := range b.Notes {
			n.Before += len(frames)
			notes = append(notes, n)
		}
		frames = append(frames, b.Frames...)
	}
}

// frame is one frame as a table states it.
func frame(at int64, source uint16, id uint32, flags bus.Flags, data ...byte) bus.Frame {
	f := bus.Frame{At: at, Source: source, ID: id, Flags: flags, Len: uint8(len(data))}
	copy(f.Data[:], data)
	return f
}
