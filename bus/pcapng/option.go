package pcapng

import (
	"strings"
	"unicode"
)

// The option codes that matter here; what a number means depends on the block.
const (
	optionEnd            = 0
	optionComment        = 1
	optionProgram        = 4  // section: shb_userappl
	optionName           = 2  // interface: if_name
	optionDescription    = 3  // interface: if_description
	optionResolution     = 9  // interface: if_tsresol
	optionOffset         = 14 // interface: if_tsoffset
	optionFlags          = 2  // packet: epb_flags
	optionDropCount      = 4  // enhanced packet: epb_dropcount
	optionStartTime      = 2  // statistics: isb_starttime
	optionEndTime        = 3  // statistics: isb_endtime
	optionReceived       = 4  // statistics: isb_ifrecv
	optionInterfaceDrops = 5  // statistics: isb_ifdrop
	optionSystemDrops    = 7  // statistics: isb_osdrop
	optionDelivered      = 8  // statistics: isb_usrdeliv
)

// maxName is the longest interface name kept, in bytes; Linux allows 15.
const maxName = 100

// option is one option of a block; value aliases the block.
type option struct {
	code  uint16
	value []byte
}

// nextOption takes the first option off list. ok is false after the last one;
// damaged says that the list does not hold what it announces.
func (b *blocks) nextOption(list *[]byte) (o option, ok, damaged bool) {
	p := *list
	if len(p) == 0 {
		return option{}, false, false
	}
	if len(p) < 4 {
		return option{}, false, true
	}
	o.code = b.uint16(p)
	n := int(b.uint16(p[2:]))
	if o.code == optionEnd {
		return option{}, false, false
	}
	padded := (n + 3) &^ 3
	if padded > len(p)-4 {
		return option{}, false, true
	}
	o.value = p[4 : 4+n]
	*list = p[4+padded:]
	return o, true, false
}

// clean makes one printable line of foreign text, blanks single.
func clean(text []byte) string {
	return strings.Join(strings.FieldsFunc(strings.ToValidUTF8(string(text), "?"), func(r rune) bool {
		return unicode.IsSpace(r) || !unicode.IsPrint(r)
	}), " ")
}

// mark takes "mark:" off a comment: all comments are marks, and some repeat
// how a mark is written in a candump log.
func mark(comment []byte) string {
	text := clean(comment)
	rest := strings.TrimLeft(strings.TrimPrefix(text, "#"), " ")
	const word = "mark:"
	if len(rest) >= len(word) && strings.EqualFold(rest[:len(word)], word) {
		return strings.TrimLeft(rest[len(word):], " ")
	}
	return text
}
