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
}

// Reset empties the batch and makes room for BatchSize frames if it has none.
func (b *Batch) Reset() {
	if cap(b.Frames) == 0 {
		b.Frames = make([]Frame, 0, BatchSize)
	}
	b.Frames = b.Frames[:0]
	b.Notes = b.Notes[:0]
}

// NoteKind says what a note is about.
type NoteKind uint8

// The kinds of note.
const (
	Warning NoteKind = iota // input that was skipped or repaired: Text says where and what to do
	Mark                    // a person's word in the recording: Text is the word, trimmed
	Loss                    // Count frames of Source were lost here
)

// Note is something met between two frames.
type Note struct {
	Before int   // its place: how many frames of this batch come before it
	At     int64 // event time, ns: of the note itself, else of the last frame before it; 0 when none came yet
	Kind   NoteKind
	Source uint16 // for Loss: which source lost them
	Count  uint64 // for Loss: frames lost
	Text   string // a sentence, lower case, no full stop
}
