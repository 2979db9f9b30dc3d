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
