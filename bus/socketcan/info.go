package socketcan

import (
	"time"

	"plumbline/bus"
)

// Info is what is known of an interface at one moment. It is a copy.
type Info struct {
	Name     string // as the configuration has it
	Device   string // the interface's own name: another one where it was found by its adapter; "": there is none
	Link     bus.Link
	Sentence string // of the last LinkChanged note: for a person
	Index    int    // the kernel's, 0 where there is none
	Kind     string // can, vcan, vxcan; empty where the kernel names none
	FD       bool   // the interface passes FD frames
	Virtual  bool   // no wire: vcan and vxcan

	Controller Controller
	Adapter    Adapter

	ReceiveBuffer int // bytes, as the kernel gave it
	Filters       int // that the kernel applies, 0: everything is delivered

	// Frames by what they are. Software, Hardware and Unstamped count the same
	// frames by the clock of At; Unstamped means CLOCK_REALTIME at reading.
	Frames, ErrorFrames, Transmitted uint64
	Software, Hardware, Unstamped    uint64

	// Frames lost, by place, since Open; in the controller: overruns, of one frame or more each.
	LostController, LostDriver, LostQueue uint64
}

// Controller is what the kernel knows of the CAN controller. Where Known is
// false it says nothing, as with vcan and old slcan: there is then no error
// information, which is not the same as no error.
type Controller struct {
	Known           bool
	State           State
	BitRate         uint32        // bit/s, 0: not set
	SamplePoint     float64       // 0 to 1
	DataBitRate     uint32        // bit/s of the data phase, 0: none
	DataSamplePoint float64       // 0 to 1
	Restart         time.Duration // after bus-off; 0: not by itself
	Mode            Mode

	HasCounters        bool
	TxErrors, RxErrors uint16 // error counters, ISO 11898-1

	// How often since the interface came up.
	BusErrors, Warnings, Passives, BusOffs, Restarts uint32
}

// Mode are the modes of a controller, as the kernel numbers them (linux/can/netlink.h).
type Mode uint32

// The modes that matter to who listens.
const (
	Loopback     Mode = 0x01
	ListenOnly   Mode = 0x02 // sends nothing: no frame, no acknowledge, no error flag
	OneShot      Mode = 0x08
	BusReporting Mode = 0x10 // an error frame for each error on the bus
	FDMode       Mode = 0x20
	PresumeAck   Mode = 0x40
	NonISO       Mode = 0x80
)

// Has reports whether all modes of m are set.
func (c Mode) Has(m Mode) bool { return c&m == m }

// State is the state of a controller.
type State uint8

// The states: the first four are those of ISO 11898-1.
const (
	Active State = iota
	ErrorWarning
	ErrorPassive
	BusOff
	Stopped // switched off
	Sleeping
)

// String returns the name that `ip -details link` prints.
func (s State) String() string {
	switch s {
	case Active:
		return "ERROR-ACTIVE"
	case ErrorWarning:
		return "ERROR-WARNING"
	case ErrorPassive:
		return "ERROR-PASSIVE"
	case BusOff:
		return "BUS-OFF"
	case Stopped:
		return "STOPPED"
	case Sleeping:
		return "SLEEPING"
	}
	return "?"
}

// Adapter is the hardware behind an interface, from sysfs: names of interfaces
// change from start to start, these do not. Fields are empty where the kernel
// does not tell.
type Adapter struct {
	Driver  string // of the kernel
	Bus     string // usb, pci, spi, platform
	Path    string // the device on that bus: usb "1-2.3", pci "0000:00:03.0"
	Product string // usb: what the adapter calls itself
	Vendor  string // usb: vendor and product number, "1d50:606f"
	Serial  string // usb: serial number
	Channel int    // of an adapter with several
}
