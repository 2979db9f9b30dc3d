package dbc

import (
	"strings"
	"unicode/utf8"
)

// windows1252 is what the bytes 0x80 to 0x9F mean in Windows-1252
// (unicode.org/Public/MAPPINGS/VENDORS/MICSFT/WINDOWS/CP1252.TXT); the five
// bytes that it leaves undefined become U+FFFD.
const windows1252 = "€\uFFFD‚ƒ„…†‡ˆ‰Š‹Œ\uFFFDŽ\uFFFD\uFFFD‘’“”•–—˜™š›œ\uFFFDžŸ"

// decodeText turns DBC bytes into UTF-8. DBC files are Windows-1252, but some
// editors leave UTF-8 behind, even in a part of the file: a valid UTF-8 sequence
// is kept, any other byte is taken as Windows-1252. What is UTF-8 by accident,
// such as "Â°", nobody writes.
func decodeText(text []byte) string {
	if ascii(text) {
		return string(text)
	}
	table := []rune(windows1252)
	var b strings.Builder
	b.Grow(len(text) + len(text)/16)
	for len(text) > 0 {
		r, size := utf8.DecodeRune(text)
		if r == utf8.RuneError && size == 1 {
			r = rune(text[0])
			if r < 0xA0 {
				r = table[r-0x80]
			}
		}
		b.WriteRune(r)
		text = text[size:]
	}
	return b.String()
}

func ascii(text []byte) bool {
	for _, c := range text {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
