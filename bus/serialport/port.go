package serialport

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
	"time"

	"go.bug.st/serial"

	"plumbline/bus"
)

// poll is how long a read waits for a byte; then it is looked whether to go on.
const poll = 100 * time.Millisecond

// Parity is the parity bit of each character.
type Parity uint8

// The parities.
const (
	NoParity Parity = iota
	OddParity
	EvenParity
)

// input is what is kept of an opened port. The port itself is out of reach:
// there is no way to write, to send a break or to move a control line.
type input struct {
	read  func([]byte) (int, error) // (0, nil) after poll without a byte
	close func() error
}

// line is how a port is opened.
type line struct {
	path     string
	baud     int // bit/s
	dataBits int // 5–8
	parity   Parity
	stopBits int // 1 or 2
	lower    bool
}

// open opens the port for listening. DTR and RTS are raised by the system as
// it opens; they stay so, which is one edge and no pulse, unless they are to be lowered.
// Devices without such lines (pseudo-terminals) are opened without lowering any.
func (l line) open() (*input, error) {
	mode := serial.Mode{BaudRate: l.baud, DataBits: l.dataBits, Parity: serial.NoParity, StopBits: serial.OneStopBit}
	switch l.parity {
	case NoParity:
	case OddParity:
		mode.Parity = serial.OddParity
	case EvenParity:
		mode.Parity = serial.EvenParity
	}
	if l.stopBits == 2 {
		mode.StopBits = serial.TwoStopBits
	}
	if l.lower {
		mode.InitialStatusBits = &serial.ModemOutputBits{}
	}
	port, err := serial.Open(l.path, &mode)
	if fault, ok := errors.AsType[*serial.PortError](err); ok && l.lower && fault.Code() == serial.InvalidSerialPort {
		mode.InitialStatusBits = nil
		port, err = serial.Open(l.path, &mode)
	}
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", l.path, err)
	}
	if err := port.SetReadTimeout(poll); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", l.path, err), port.Close())
	}
	return &input{read: port.Read, close: port.Close}, nil
}

// explain says what it means for a technician that a port could not be opened.
func explain(path string, err error) (bus.Link, string) {
	if inner := errors.Unwrap(err); inner != nil {
		err = inner // the path stands in the sentence already
	}
	code := serial.PortErrorCode(-1)
	if fault, ok := errors.AsType[*serial.PortError](err); ok {
		code = fault.Code()
	}
	switch {
	case errors.Is(err, fs.ErrNotExist), code == serial.PortNotFound:
		return bus.Absent, fmt.Sprintf("there is no %s: plug the adapter in, or correct the device of this source in the setup; it is listened to as soon as it is there", path)
	case errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.EIO):
		return bus.Absent, fmt.Sprintf("%s stands for no device at present: plug the adapter in; it is listened to as soon as it is there", path)
	case code == serial.PermissionDenied, errors.Is(err, fs.ErrPermission):
		return bus.Down, fmt.Sprintf("%s may not be opened: let the user of this program into the group that owns it, often dialout", path)
	case code == serial.PortBusy:
		return bus.Down, fmt.Sprintf("%s is in use by another program: end that", path)
	default:
		return bus.Down, fmt.Sprintf("%s cannot be opened as a serial port: %v", path, err)
	}
}
