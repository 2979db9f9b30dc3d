package socketcan

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// What a raw socket hands over, linux/can.h, all in the computer's byte order:
//
//	struct can_frame {          struct canfd_frame {
//		u32 can_id;                 u32 can_id;
//		u8  len;                    u8  len;
//		u8  pad, res0, len8_dlc;    u8  flags, res0, res1;
//		u8  data[8];                u8  data[64];
//	};                          };
const (
	classicSize = 16 // CAN_MTU
	fdSize      = 72 // CANFD_MTU
	offsetLen   = 4
	offsetFlags = 5
	offsetData  = 8

	fdBitRateSwitch = 0x01 // CANFD_BRS
	fdErrorState    = 0x02 // CANFD_ESI
)

// parseFrame fills ID, Flags, Len and Data of f from what one receive delivered,
// and leaves At and Source. f must be zero. It returns an error where raw is no
// frame; f is then undefined.
func parseFrame(raw []byte, f *bus.Frame) error {
	longest := 8
	switch len(raw) {
	case classicSize:
	case fdSize:
		longest = bus.MaxData
		f.Flags |= bus.FD
		if raw[offsetFlags]&fdBitRateSwitch != 0 {
			f.Flags |= bus.BitRateSwitch
		}
		if raw[offsetFlags]&fdErrorState != 0 {
			f.Flags |= bus.ErrorState
		}
	default:
		return fmt.Errorf("%d bytes where a frame has %d or %d", len(raw), classicSize, fdSize)
	}
	n := int(raw[offsetLen])
	if n > longest {
		return fmt.Errorf("a frame with %d bytes of data, at most %d fit", n, longest)
	}
	id := binary.NativeEndian.Uint32(raw)
	f.Len = uint8(n)
	switch {
	case id&unix.CAN_ERR_FLAG != 0:
		f.Flags |= bus.Error
		f.ID = id & unix.CAN_ERR_MASK
	case id&unix.CAN_EFF_FLAG != 0:
		f.Flags |= bus.Extended
		f.ID = id & unix.CAN_EFF_MASK
	default:
		f.ID = id & unix.CAN_SFF_MASK
	}
	if id&unix.CAN_RTR_FLAG != 0 && !f.Flags.Has(bus.Error) {
		f.Flags |= bus.Remote
		return nil
	}
	copy(f.Data[:n], raw[offsetData:])
	return nil
}

// kernelFilters returns what CAN_RAW_FILTER takes: a frame passes where
// received & mask == id & mask. Data and remote frames pass alike.
func kernelFilters(filters []Filter) []unix.CanFilter {
	if len(filters) > maxFilters {
		return nil
	}
	var out []unix.CanFilter
	for _, f := range filters {
		c := unix.CanFilter{Id: f.ID, Mask: unix.CAN_SFF_MASK | unix.CAN_EFF_FLAG}
		if f.Extended {
			c.Id |= unix.CAN_EFF_FLAG
			c.Mask = unix.CAN_EFF_MASK | unix.CAN_EFF_FLAG
		}
		if f.PGN {
			// SAE J1939-21: 3 bits of priority, 2 of page, 8 of format, 8 of
			// destination or, where the format is 240 and up, of the group; 8 of source
			c.Mask = 0x03FF0000 | unix.CAN_EFF_FLAG
			if f.ID>>16&0xFF >= 240 {
				c.Mask |= 0xFF00
			}
		}
		c.Id &= c.Mask
		out = append(out, c)
	}
	return out
}

// fault is what an error frame says, linux/can/error.h.
type fault struct {
	overrun   bool // the controller lost a frame
	noAck     bool // of a frame that was seen, nobody acknowledged
	restarted bool
	busError  bool // an error on the wire: a frame was broken
	hasState  bool
	state     State
	counters  bool
	tx, rx    uint8
}

// Where in data the kernel puts the details.
const (
	errController = 1
	errLocation   = 3
	errTx         = 6
	errRx         = 7
)

// parseFault reads an error frame.
func parseFault(f *bus.Frame) fault {
	var d fault
	class, data := f.ID, &f.Data
	if class&unix.CAN_ERR_CRTL != 0 {
		c := data[errController]
		d.overrun = c&unix.CAN_ERR_CRTL_RX_OVERFLOW != 0
		switch {
		case c&(unix.CAN_ERR_CRTL_RX_PASSIVE|unix.CAN_ERR_CRTL_TX_PASSIVE) != 0:
			d.hasState, d.state = true, ErrorPassive
		case c&(unix.CAN_ERR_CRTL_RX_WARNING|unix.CAN_ERR_CRTL_TX_WARNING) != 0:
			d.hasState, d.state = true, ErrorWarning
		case c&unix.CAN_ERR_CRTL_ACTIVE != 0:
			d.hasState, d.state = true, Active
		}
	}
	if class&unix.CAN_ERR_PROT != 0 {
		d.busError = true
		d.noAck = data[errLocation] == unix.CAN_ERR_PROT_LOC_ACK || data[errLocation] == unix.CAN_ERR_PROT_LOC_ACK_DEL
	}
	d.busError = d.busError || class&unix.CAN_ERR_BUSERROR != 0
	d.noAck = d.noAck || class&unix.CAN_ERR_ACK != 0
	if class&unix.CAN_ERR_RESTARTED != 0 {
		d.restarted, d.hasState, d.state = true, true, Active
	}
	if class&unix.CAN_ERR_BUSOFF != 0 {
		d.hasState, d.state = true, BusOff
	}
	if class&unix.CAN_ERR_CNT != 0 {
		d.counters, d.tx, d.rx = true, data[errTx], data[errRx]
	}
	return d
}
