package socketcan

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sys/unix"
)

// link is one interface as a netlink message describes it.
type link struct {
	index   int
	name    string
	gone    bool // the message says that it was removed
	isCAN   bool
	up      bool
	mtu     uint32
	kind    string
	bus     string // of the parent device
	hasLoss bool
	losses  deviceLosses
	packets uint64 // received, of whatever identifier
	control Controller
}

// unknownRate is CAN_BITRATE_UNKNOWN: slcan, where the adapter was set up by somebody else.
const unknownRate = 0xFFFFFFFF

// deviceLosses are frames lost before the socket, as the device counts them.
type deviceLosses struct {
	overruns uint64 // in the controller
	dropped  uint64 // by driver or network device
}

// message is one netlink message:
//
//	struct nlmsghdr { u32 len; u16 type, flags; u32 seq, pid; };
type message struct {
	kind uint16
	seq  uint32
	body []byte
}

var errCut = errors.New("cut short")

// nextMessage takes the first message from b.
func nextMessage(b []byte) (m message, rest []byte, err error) {
	if len(b) < unix.SizeofNlMsghdr {
		return m, nil, fmt.Errorf("netlink header: %w", errCut)
	}
	n := binary.NativeEndian.Uint32(b)
	if n < unix.SizeofNlMsghdr || uint64(n) > uint64(len(b)) {
		return m, nil, fmt.Errorf("netlink message of %d bytes where %d are left: %w", n, len(b), errCut)
	}
	m.kind = binary.NativeEndian.Uint16(b[4:])
	m.seq = binary.NativeEndian.Uint32(b[8:])
	m.body = b[unix.SizeofNlMsghdr:n]
	return m, b[min(align(int(n)), len(b)):], nil
}

func align(n int) int { return (n + 3) &^ 3 }

// errno returns the error that a message of type NLMSG_ERROR carries, 0 for an acknowledgement.
func (m message) errno() unix.Errno {
	if len(m.body) < 4 {
		return unix.EBADMSG
	}
	return unix.Errno(-int32(binary.NativeEndian.Uint32(m.body)))
}

// attributes calls f with each attribute of b: struct nlattr { u16 len, type; }.
func attributes(b []byte, f func(kind uint16, body []byte) error) error {
	for len(b) >= unix.SizeofNlAttr {
		n := int(binary.NativeEndian.Uint16(b))
		if n < unix.SizeofNlAttr || n > len(b) {
			return fmt.Errorf("attribute of %d bytes where %d are left: %w", n, len(b), errCut)
		}
		// the two upper bits say nested and byte order
		if err := f(binary.NativeEndian.Uint16(b[2:])&0x3FFF, b[unix.SizeofNlAttr:n]); err != nil {
			return err
		}
		b = b[min(align(n), len(b)):]
	}
	return nil
}

// parseLink reads RTM_NEWLINK or RTM_DELLINK:
//
//	struct ifinfomsg { u8 family, pad; u16 type; int index; u32 flags, change; };
func parseLink(m message) (link, error) {
	var l link
	if len(m.body) < unix.SizeofIfInfomsg {
		return l, fmt.Errorf("ifinfomsg: %w", errCut)
	}
	l.gone = m.kind == unix.RTM_DELLINK
	l.isCAN = binary.NativeEndian.Uint16(m.body[2:]) == unix.ARPHRD_CAN
	l.index = int(int32(binary.NativeEndian.Uint32(m.body[4:])))
	l.up = binary.NativeEndian.Uint32(m.body[8:])&unix.IFF_UP != 0
	err := attributes(m.body[unix.SizeofIfInfomsg:], func(kind uint16, body []byte) error {
		switch kind {
		case unix.IFLA_IFNAME:
			l.name = text(body)
		case unix.IFLA_MTU:
			l.mtu = u32(body, 0)
		case unix.IFLA_PARENT_DEV_BUS_NAME:
			l.bus = text(body)
		case unix.IFLA_STATS64:
			l.losses, l.packets, l.hasLoss = parseStats(body)
		case unix.IFLA_LINKINFO:
			return l.parseInfo(body)
		}
		return nil
	})
	return l, err
}

// parseStats reads struct rtnl_link_stats64, linux/if_link.h: u64 each, of which
// rx packets is the 1st, rx dropped the 7th, rx over the 12th, rx fifo the 15th,
// rx missed the 16th.
func parseStats(b []byte) (lost deviceLosses, packets uint64, ok bool) {
	const received, dropped, over, fifo, missed = 0, 6, 11, 14, 15
	if len(b) < 8*(missed+1) {
		return lost, 0, false
	}
	at := func(i int) uint64 { return binary.NativeEndian.Uint64(b[8*i:]) }
	return deviceLosses{
		overruns: max(at(over), at(fifo)), // two names of one thing, says the header
		dropped:  at(dropped) + at(missed),
	}, at(received), true
}

// parseInfo reads IFLA_LINKINFO.
func (l *link) parseInfo(b []byte) error {
	var data, stats []byte
	err := attributes(b, func(kind uint16, body []byte) error {
		switch kind {
		case unix.IFLA_INFO_KIND:
			l.kind = text(body)
		case unix.IFLA_INFO_DATA:
			data = body
		case unix.IFLA_INFO_XSTATS:
			stats = body
		}
		return nil
	})
	if err != nil || l.kind != "can" {
		return err // the data of other kinds have other numbers
	}
	// struct can_device_stats { u32 bus_error, error_warning, error_passive, bus_off, arbitration_lost, restarts; }
	c := &l.control
	c.BusErrors, c.Warnings, c.Passives, c.BusOffs, c.Restarts = u32(stats, 0), u32(stats, 4), u32(stats, 8), u32(stats, 12), u32(stats, 20)
	return attributes(data, func(kind uint16, body []byte) error {
		switch kind {
		case unix.IFLA_CAN_STATE:
			if len(body) >= 4 {
				c.Known, c.State = true, State(min(u32(body, 0), 255))
			}
		case unix.IFLA_CAN_BITTIMING:
			// struct can_bittiming { u32 bitrate, sample_point, …; }, the sample point in thousandths
			c.BitRate, c.SamplePoint = u32(body, 0), float64(u32(body, 4))/1000
			if c.BitRate == unknownRate {
				c.BitRate = 0
			}
		case unix.IFLA_CAN_DATA_BITTIMING:
			c.DataBitRate, c.DataSamplePoint = u32(body, 0), float64(u32(body, 4))/1000
		case unix.IFLA_CAN_CTRLMODE:
			c.Mode = Mode(u32(body, 4)) // struct can_ctrlmode { u32 mask, flags; }
		case unix.IFLA_CAN_RESTART_MS:
			c.Restart = time.Duration(u32(body, 0)) * time.Millisecond
		case unix.IFLA_CAN_BERR_COUNTER:
			if len(body) >= 4 { // struct can_berr_counter { u16 txerr, rxerr; }
				c.HasCounters = true
				c.TxErrors, c.RxErrors = binary.NativeEndian.Uint16(body), binary.NativeEndian.Uint16(body[2:])
			}
		}
		return nil
	})
}

// u32 returns the number at offset, 0 where b is too short.
func u32(b []byte, offset int) uint32 {
	if len(b) < offset+4 {
		return 0
	}
	return binary.NativeEndian.Uint32(b[offset:])
}

// text returns a string that ends with a zero byte.
func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}
