package serialport

import "plumbline/bus"

const (
	bell = 7 // BEL: the adapter refuses a command; it ends a line too
	// slcanLine is the longest line: type, identifier of 8 digits, length, 64 bytes, a time stamp of 8 digits, S.
	slcanLine = 1 + 8 + 1 + 2*bus.MaxData + 8 + 1
)

// slcan takes a line of the text protocol of serial CAN adapters, without its end:
//
//	t iii l dd…       data frame, 11-bit identifier, length 0–8
//	T iiiiiiii l dd…  29-bit identifier
//	r iii l, R …      remote frame, no data
//	d D, b B          CAN FD without and with the faster data phase; length 0–9, A–F as ISO 11898-1 codes it
//	… tttt            then perhaps a time stamp of 4 or 8 hexadecimal digits, which is not used
//	… S               FD: then perhaps a mark that the sender was error passive
//
// It gives the same errors as Linux makes of the lines s and e (drivers/net/can/slcan):
//
//	s x rrr ttt       state a, w, p, b with both error counters, decimal
//	e n c…            n errors: a ack, b B bit, c crc, f form, o O overrun, s stuffing
//
// Every other line of text is an adapter's answer to somebody else's command
// and is left alone.
func (f *Framer) slcan(line []byte, wire int, source uint16, b *bus.Batch) {
	var frame bus.Frame
	ok := false
	switch line[0] {
	case 't', 'T', 'r', 'R', 'd', 'D', 'b', 'B':
		ok = slcanFrame(line, &frame)
	case 's':
		ok = slcanState(line, &frame)
	case 'e':
		ok = slcanError(line, &frame)
	case 'z', 'Z', 'V', 'v', 'N', 'F', 'O', 'C', 'L', 'S', 'M', 'm', 'Q', 'W', 'X', 'A', 'P', 'U', '?', '#':
		if printable(line) {
			f.stats.Ignored++
			f.stats.Idle += uint64(wire)
			return
		}
	}
	if !ok {
		f.drop(wire, source, b)
		return
	}
	f.valid(wire, source, b)
	made := f.add(frame.ID, source, b)
	frame.At, frame.Source = made.At, source
	*made = frame
	if frame.Flags&bus.Error == 0 {
		f.retime(made, nil, 0)
	}
}

// slcanFrame reads a data or remote frame.
func slcanFrame(line []byte, frame *bus.Frame) bool {
	digits := 3
	switch line[0] {
	case 'T', 'R', 'D', 'B':
		digits = 8
		frame.Flags = bus.Extended
	}
	switch line[0] {
	case 'r', 'R':
		frame.Flags |= bus.Remote
	case 'd', 'D':
		frame.Flags |= bus.FD
	case 'b', 'B':
		frame.Flags |= bus.FD | bus.BitRateSwitch
	}
	if len(line) < 1+digits+1 {
		return false
	}
	id, ok := hexNumber(line[1 : 1+digits])
	if !ok || id > maxID || digits == 3 && id > standardID {
		return false
	}
	frame.ID = id
	code, ok := hexDigit(line[1+digits])
	if !ok || code > 8 && !frame.Flags.Has(bus.FD) {
		return false
	}
	frame.Len = fdLength(code)
	rest := line[1+digits+1:]
	if !frame.Flags.Has(bus.Remote) {
		if len(rest) < 2*int(frame.Len) {
			return false
		}
		for i := range frame.Data[:frame.Len] {
			high, ok1 := hexDigit(rest[2*i])
			low, ok2 := hexDigit(rest[2*i+1])
			if !ok1 || !ok2 {
				return false
			}
			frame.Data[i] = high<<4 | low
		}
		rest = rest[2*frame.Len:]
	}
	if n := len(rest); n > 0 && rest[n-1] == 'S' && frame.Flags.Has(bus.FD) {
		frame.Flags |= bus.ErrorState
		rest = rest[:n-1]
	}
	if len(rest) != 0 && len(rest) != 4 && len(rest) != 8 {
		return false
	}
	_, ok = hexNumber(rest)
	return ok
}

// fdLength is the length that a code of four bits stands for (ISO 11898-1:2015, table of the DLC).
func fdLength(code byte) uint8 {
	switch {
	case code <= 8:
		return code
	case code <= 12:
		return 8 + 4*(code-8)
	default:
		return 16 * (code - 11)
	}
}

// Of linux/can/error.h: the classes of an error frame and the details in its data.
const (
	classControl  = 0x004 // data[1]
	classProtocol = 0x008 // data[2] type, data[3] place
	classAck      = 0x020
	classBusOff   = 0x040
	classBusError = 0x080
	classCounters = 0x200 // data[6] transmit, data[7] receive

	controlRxOverflow, controlTxOverflow = 0x01, 0x02
	controlRxWarning, controlTxWarning   = 0x04, 0x08
	controlRxPassive, controlTxPassive   = 0x10, 0x20
	controlActive                        = 0x40

	protocolBit, protocolForm, protocolStuff = 0x01, 0x02, 0x04
	protocolBit0, protocolBit1               = 0x08, 0x10

	placeCRC, placeAck = 0x08, 0x19
)

// slcanState makes an error frame of a change of the controller's state.
func slcanState(line []byte, frame *bus.Frame) bool {
	if len(line) != 8 {
		return false
	}
	rx, ok1 := decimal(line[2:5])
	tx, ok2 := decimal(line[5:8])
	if !ok1 || !ok2 {
		return false
	}
	frame.Flags, frame.Len = bus.Error, 8
	pick := func(whenRx, whenTx byte) {
		if rx >= tx {
			frame.Data[1] |= whenRx
		}
		if tx >= rx {
			frame.Data[1] |= whenTx
		}
	}
	frame.ID = classControl | classCounters
	switch line[1] {
	case 'a':
		frame.Data[1] = controlActive
	case 'w':
		pick(controlRxWarning, controlTxWarning)
	case 'p':
		pick(controlRxPassive, controlTxPassive)
	case 'b':
		frame.ID = classBusOff
		return true
	default:
		return false
	}
	frame.Data[6], frame.Data[7] = byte(min(tx, 255)), byte(min(rx, 255))
	return true
}

// slcanError makes an error frame of a list of bus errors.
func slcanError(line []byte, frame *bus.Frame) bool {
	if len(line) < 3 || line[1] < '1' || line[1] > '8' || len(line) != 2+int(line[1]-'0') {
		return false
	}
	frame.ID, frame.Flags, frame.Len = classProtocol|classBusError, bus.Error, 8
	d := &frame.Data
	for _, c := range line[2:] {
		switch c {
		case 'a':
			frame.ID |= classAck
			d[3] = placeAck
		case 'b':
			d[2] |= protocolBit0
		case 'B':
			d[2] |= protocolBit1
		case 'c':
			d[2] |= protocolBit
			d[3] = placeCRC
		case 'f':
			d[2] |= protocolForm
		case 'o':
			frame.ID |= classControl
			d[1] |= controlRxOverflow
		case 'O':
			frame.ID |= classControl
			d[1] |= controlTxOverflow
		case 's':
			d[2] |= protocolStuff
		default:
			return false
		}
	}
	return true
}

// hexDigit reads one hexadecimal digit.
func hexDigit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	}
	return 0, false
}

// hexNumber reads up to 8 hexadecimal digits; none are 0.
func hexNumber(b []byte) (n uint32, ok bool) {
	for _, c := range b {
		d, ok := hexDigit(c)
		if !ok {
			return 0, false
		}
		n = n<<4 | uint32(d)
	}
	return n, true
}

// decimal reads a few decimal digits.
func decimal(b []byte) (n int, ok bool) {
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = 10*n + int(c-'0')
	}
	return n, true
}
