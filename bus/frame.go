package bus

// MaxData is the longest payload of a CAN FD frame, in bytes (ISO 11898-1:2015).
const MaxData = 64

// Flags are the properties of a frame beside its identifier and data.
type Flags uint8

// The flags of a frame.
const (
	Extended      Flags = 1 << iota // 29-bit identifier
	Remote                          // remote transmission request: Len is the requested length, there is no data
	Error                           // error frame as SocketCAN reports it: ID holds the error class, Data the details
	FD                              // CAN FD format
	BitRateSwitch                   // FD: data phase at the higher bit rate
	ErrorState                      // FD: the transmitter was error passive
	Transmitted                     // sent by the machine that recorded it
)

// Has reports whether all bits of mask are set.
func (f Flags) Has(mask Flags) bool { return f&mask == mask }

// Frame is one frame as it was heard. It is a plain value: comparable with ==,
// free of pointers, safe to copy. Bytes of Data at and beyond Len are zero.
type Frame struct {
	At     int64  // event time, ns since 1970-01-01 UTC, as the source stamped it
	ID     uint32 // identifier without flag bits: 11 or 29 bits; of an error frame its class mask
	Source uint16 // index into Source.Names
	Flags  Flags
	Len    uint8 // bytes of Data in use: 0–8, FD 0–64
	Data   [MaxData]byte
}

// Payload returns the bytes in use. It aliases the frame.
func (f *Frame) Payload() []byte { return f.Data[:f.Len] }

// Bits returns how many bits the frame takes on the wire at the most, with stuff bits and
// the pause after it: nominal ones, and those of the data phase of an FD frame that has one.
//
// Classic: 55 + 10·n bits with 11-bit identifiers, 80 + 10·n with 29-bit ones, n bytes of data (Davis, Burns,
// Bril and Lukkien, Real-Time Systems 35, 2007). FD: the fields of ISO 11898-1:2015, with a stuff bit after
// every four bits where stuffing is dynamic, as can_frame_bits of Linux 6.12 counts them (include/linux/can/length.h), and
// one more: the acknowledge slot may take two bits, from memory.
func (f *Frame) Bits() (nominal, data int) {
	n := int(f.Len)
	if f.Flags.Has(Remote) || f.Flags.Has(Error) {
		n = 0
	}
	extended := f.Flags.Has(Extended)
	if !f.Flags.Has(FD) {
		if extended {
			return 80 + 10*n, 0
		}
		return 55 + 10*n, 0
	}
	head := 17 // start to bit rate switch
	if extended {
		head = 36
	}
	const tail = 13 // acknowledge 2 and 1, end of frame 7, pause 3
	crc, fixed := 17, 6
	if n > 16 {
		crc, fixed = 21, 7
	}
	body := 5 + 8*n // error state, length, data
	data = body + body/4 + 4 + crc + fixed + 1
	nominal = head + head/4 + tail
	if !f.Flags.Has(BitRateSwitch) {
		return nominal + data, 0
	}
	return nominal, data
}
