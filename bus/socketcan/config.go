package socketcan

import (
	"errors"
	"fmt"
	"time"
)

// Config says what to listen to. The zero value of each field but Interfaces
// is a default that suits a vehicle.
type Config struct {
	// Interfaces to listen to, one or more, each once. Their order is the
	// order of Names.
	Interfaces []Interface

	// ReceiveBuffer is the size of each socket's receive queue in bytes, as
	// the kernel counts: about 800 for a classic frame, so that the default,
	// 8 MiB, holds a second of a full bus at 1 Mbit/s. Without CAP_NET_ADMIN
	// the kernel gives no more than net.core.rmem_max; a note says so.
	ReceiveBuffer int

	// Stamps is which clock stamps the frames: by default Software.
	Stamps Stamps

	// SilentAfter is how long an interface that is up may be without a frame
	// before it is called silent: 1 s by default.
	SilentAfter time.Duration

	// Gather is how long frames are left to gather at the most before they are
	// read; less where a saturated bus would fill more than half of the receive
	// queue meanwhile. It saves a wake-up a frame and delays none of the stamps:
	// 20 ms by default; below zero not at all.
	Gather time.Duration
}

// Interface is one CAN interface, known by its name or by its adapter.
type Interface struct {
	Name string // as `ip link` shows it, 1 to 15 bytes; where Adapter is given, only what Names calls it

	// Adapter is the serial number of the adapter, or its path, as [Adapter] has them: the interface
	// is then the one of that adapter, whatever its name is, and never another of this Name. A
	// number behind a slash is the channel, of an adapter with several: 0 where there is none.
	Adapter string

	// Stamps is which clock stamps the frames of this interface: that of the configuration, or Hardware where this says so.
	Stamps Stamps

	// Filters are the frames that are wanted; none means all. The kernel
	// leaves out the rest, so that it costs nothing. Above 512 filters, the
	// most the kernel takes, everything is delivered. Error frames always are.
	Filters []Filter
}

// Filter lets frames of one identifier or parameter group pass.
type Filter struct {
	ID       uint32 // 11 or, where Extended, 29 bits
	Extended bool
	PGN      bool // match the J1939 parameter group of ID, with any priority and source address; Extended only
}

// Stamps is a clock that stamps frames.
type Stamps uint8

// The clocks.
const (
	// Software is CLOCK_REALTIME as the kernel reads it when the driver hands
	// the frame over. Late by the driver's latency, some 10 µs to 1 ms.
	Software Stamps = iota

	// Hardware is the clock of the adapter, where it has one, else Software.
	// Its distances are exact, its zero and rate are its own: the offset to
	// CLOCK_REALTIME is the least seen within the last second, since a
	// software stamp is only ever late.
	Hardware
)

// String returns "software" or "hardware".
func (s Stamps) String() string {
	if s == Hardware {
		return "hardware"
	}
	return "software"
}

const (
	defaultReceiveBuffer = 8 << 20
	defaultSilentAfter   = time.Second
	defaultGather        = 20 * time.Millisecond

	maxName    = 15  // IFNAMSIZ less its zero byte
	maxFilters = 512 // CAN_RAW_FILTER_MAX
)

// Validate reports all faults of the configuration.
func (c Config) Validate() error {
	var faults []error
	if len(c.Interfaces) == 0 {
		faults = append(faults, errors.New("no interface is named"))
	}
	if len(c.Interfaces) > 1<<16 {
		faults = append(faults, fmt.Errorf("%d interfaces, at most %d can be told apart", len(c.Interfaces), 1<<16))
	}
	seen := map[string]bool{}
	for _, i := range c.Interfaces {
		if len(i.Name) == 0 || len(i.Name) > maxName && i.Adapter == "" {
			faults = append(faults, fmt.Errorf("interface %q: a name has 1 to %d bytes", i.Name, maxName))
		}
		if seen[i.Name] {
			faults = append(faults, fmt.Errorf("interface %q is named twice", i.Name))
		}
		seen[i.Name] = true
		if i.Stamps > Hardware {
			faults = append(faults, fmt.Errorf("interface %q: stamps %d: there is only Software and Hardware", i.Name, i.Stamps))
		}
		for _, f := range i.Filters {
			switch {
			case f.PGN && !f.Extended:
				faults = append(faults, fmt.Errorf("interface %q: filter %03X: an identifier of 11 bits has no PGN", i.Name, f.ID))
			case !f.Extended && f.ID > 0x7FF:
				faults = append(faults, fmt.Errorf("interface %q: filter %X: more than 11 bits, and not extended", i.Name, f.ID))
			case f.ID > 0x1FFFFFFF:
				faults = append(faults, fmt.Errorf("interface %q: filter %X: more than 29 bits", i.Name, f.ID))
			}
		}
	}
	if c.ReceiveBuffer < 0 || c.ReceiveBuffer > 1<<30 {
		faults = append(faults, fmt.Errorf("receive buffer of %d bytes: 0 to %d are possible", c.ReceiveBuffer, 1<<30))
	}
	if c.Stamps > Hardware {
		faults = append(faults, fmt.Errorf("stamps %d: there is only Software and Hardware", c.Stamps))
	}
	if c.SilentAfter < 0 {
		faults = append(faults, fmt.Errorf("silent after %v: less than nothing", c.SilentAfter))
	}
	if len(faults) > 0 {
		return fmt.Errorf("socketcan: %w", errors.Join(faults...))
	}
	return nil
}

func (c Config) withDefaults() Config {
	if c.ReceiveBuffer == 0 {
		c.ReceiveBuffer = defaultReceiveBuffer
	}
	if c.SilentAfter == 0 {
		c.SilentAfter = defaultSilentAfter
	}
	if c.Gather == 0 {
		c.Gather = defaultGather
	}
	return c
}
