package bus

// Source delivers frames in the order they were heard. Live readers and
// recordings fulfil the same contract; who judges cannot tell them apart.
// A Source is used by one goroutine; only Close may be called from another.
type Source interface {
	// Read empties the batch and fills it with at least one frame or note.
	// It keeps to the capacity of b.Frames and makes room itself where there is none.
	// After the last frame it returns io.EOF with an empty batch. An error
	// other than io.EOF means that nothing more can be had; what was read
	// before it has been delivered.
	Read(b *Batch) error

	// Names returns what Frame.Source and Note.Source index: the interfaces
	// in the order in which they were first met. It can grow with each Read;
	// names that were given stay where they are.
	Names() []string

	// Close releases what the source holds. A Read under way returns.
	Close() error
}

// BatchSize is a good capacity for Batch.Frames: large enough that the cost
// of a call is nothing, small enough to stay in the processor's cache.
const BatchSize = 256

// Batch is what one Read delivers. The caller owns it and hands it in again.
type Batch struct {
	Frames []Frame
	Notes  []Note
	Chunks []Chunk // serial sources only: the bytes that Frames were cut from, for who records
}

// Chunk is what a serial port delivered at once, before it was cut into frames.
// Data belongs to the source and is valid until the next Read. Notes that have the same place come before it,
// whatever their times are: clocks are set.
type Chunk struct {
	Before int   // its place: how many frames of this batch come before those cut from it
	At     int64 // ns, when it was read
	Source uint16
	Data   []byte
}

// Reset empties the batch and makes room for BatchSize frames if it has none.
func (b *Batch) Reset() {
	if cap(b.Frames) == 0 {
		b.Frames = make([]Frame, 0, BatchSize)
	}
	b.Frames = b.Frames[:0]
	b.Notes = b.Notes[:0]
	b.Chunks = b.Chunks[:0]
}

// NoteKind says what a note is about.
type NoteKind uint8

// The kinds of note.
const (
	Warning     NoteKind = iota // input that was skipped or repaired: Text says where and what to do
	Mark                        // a person's word in the recording: Text is the word, trimmed
	Loss                        // Count frames of Source were lost here, at Place; 0: some were, or bytes of a serial line, and nobody knows how many
	LinkChanged                 // the state of Source became Link; Text is the sentence for a technician
	Clock                       // the clock that stamps the frames stepped by Step ns
	Garbage                     // serial: Count bytes of Source were thrown away; Text says why
	Tick                        // event time has reached At, and nothing was heard
	Told                        // what was said while it was recorded, for people: something began to fail (Count 1) or ceased to (0); nobody judges by it
	BothClocks                  // both clocks were read at once: At is the one that stamps the frames, Monotonic the one that nobody can set
)

// Place says where on its way a frame was lost. They are counted apart.
type Place uint8

// The places, from the bus inward.
const (
	Somewhere  Place = iota // the recording does not tell
	Controller              // overrun of the controller's own buffer
	Driver                  // dropped by driver or network device
	Queue                   // receive queue of the socket was full
	Ring                    // plumbline's own ring was full
	Recorder                // heard and judged, but not recorded
)

// Link is the state of a bus or port as its reader knows it.
type Link uint8

// The states of a source. ErrorActive to BusOff are those of ISO 11898-1.
const (
	LinkUnknown Link = iota
	Absent           // there is no such interface or device
	Down             // it is there, but switched off
	Silent           // it is up, and nothing has been heard for a while
	ErrorActive      // frames arrive
	ErrorWarning
	ErrorPassive
	BusOff
	NoValidFrame // serial: bytes arrive, but no frame is ever valid
)

// Note is something met between two frames.
type Note struct {
	Before int   // its place: how many frames of this batch come before it
	At     int64 // event time, ns: of the note itself, else of the last frame before it; 0 when none came yet
	Kind   NoteKind
	Source uint16 // for Loss, LinkChanged, Garbage: which source
	Count  uint64 // for Loss: frames lost; for Garbage: bytes; for Told: 1 it begins, 0 it ends
	Place  Place  // for Loss
	Link   Link   // for LinkChanged
	Step   int64  // for Clock: ns, new minus expected

	Monotonic int64 // for BothClocks: ns, from a zero that is the same throughout a run of the computer (on Linux CLOCK_MONOTONIC)

	// For LinkChanged of a CAN interface, bit/s; 0: not known.
	BitRate, DataBitRate uint32
	Text                 string // a sentence, lower case, no full stop
}
