package pcapng

import (
	"encoding/binary"
	"strconv"
)

// recordingWord is the first statement of the comment that a section header of
// our own carries.
const recordingWord = "recording"

// Section is what a section header of our own says of the recording.
type Section struct {
	Program string   // that recorded, with its version
	Session string   // the run of the recorder: the same in all of its parts
	Part    int      // of the session, from 1; 0: not told
	Setup   string   // the setup file
	SHA256  string   // of the setup file, in hex
	Sources []string // names of the sources known when the part was begun
}

// AppendSection appends a section header, little-endian, of unstated length.
func AppendSection(p []byte, s *Section) []byte {
	text := appendField(nil, ownWord, recordingWord)
	text = appendField(text, "session", s.Session)
	if s.Part > 0 {
		text = appendField(text, "part", strconv.Itoa(s.Part))
	}
	text = appendField(text, "setup", s.Setup)
	text = appendField(text, "sha256", s.SHA256)
	const most = 1 << 15 // an option holds 64 KiB
	for _, name := range s.Sources {
		if len(text) < most {
			text = appendField(text, "source", name)
		}
	}
	var o []byte
	o = appendOption(o, optionComment, text[:len(text)-1])
	o = appendOption(o, optionProgram, []byte(cutText(s.Program, MaxText)))
	o = append(o, 0, 0, 0, 0)
	p, own := appendBlock(p, blockSection, sectionMin+len(o))
	binary.LittleEndian.PutUint32(own[8:], byteOrderMagic)
	binary.LittleEndian.PutUint16(own[12:], 1)
	binary.LittleEndian.PutUint16(own[14:], 0)
	binary.LittleEndian.PutUint64(own[16:], 1<<64-1) // length not stated
	copy(own[24:], o)
	return p
}

// Section returns what the header of the section being read says, and whether
// it is one of our own. It is known once Read has returned.
func (r *Reader) Section() (Section, bool) { return r.about, r.own }

// readSection takes in the options of a section header.
func (r *Reader) readSection(list []byte) {
	r.about, r.own = Section{}, false
	for {
		o, ok, _ := r.blocks.nextOption(&list)
		if !ok {
			break
		}
		switch o.code {
		case optionComment:
			if !r.own {
				r.own = r.about.read(string(o.value))
			}
		case optionProgram:
			r.about.Program = clean(o.value)
		}
	}
	if !r.own {
		r.about = Section{}
	}
}

// read takes in a comment and reports whether it is one of our own.
func (s *Section) read(text string) bool {
	key, value, text := nextField(text)
	if key != ownWord || value != recordingWord {
		return false
	}
	for text != "" {
		key, value, text = nextField(text)
		switch key {
		case "session":
			s.Session = value
		case "part":
			s.Part, _ = strconv.Atoi(value) // 0: not told
		case "setup":
			s.Setup = value
		case "sha256":
			s.SHA256 = value
		case "source":
			s.Sources = append(s.Sources, value)
		}
	}
	return true
}
