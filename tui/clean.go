package tui

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"
)

// A mark stacked on a letter costs no column, so a name could carry a thousand of them
// and paint over the rows above it. Real writing needs three.
const marksOnALetter = 4

// clean makes text from files and people safe to stand in a cell: nothing that moves the
// cursor, changes the terminal, turns the writing direction or hides itself is left as it
// is; it is shown as \x1b, \u202e … instead. Every string on its way to the screen passes
// here (row.put), so no other place has to remember to.
func clean(s string) string {
	if plain(s) {
		return s
	}
	var b strings.Builder
	b.Grow(len(s) + 8)
	marks := 0
	for i := 0; i < len(s); {
		c, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case c == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case c < 0x20 || c == 0x7f:
			fmt.Fprintf(&b, `\x%02x`, c)
		case hidden(c):
			fmt.Fprintf(&b, `\u%04x`, c)
		case unicode.In(c, unicode.Mn, unicode.Me):
			if marks++; marks <= marksOnALetter && b.Len() > 0 {
				b.WriteRune(c)
			}
			i += n
			continue
		default:
			b.WriteRune(c)
		}
		marks = 0
		i += n
	}
	return b.String()
}

// plain tells whether every byte is printable ASCII: the common case, and then a byte is
// a column.
func plain(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < 0x20 || c > 0x7e {
			return false
		}
	}
	return true
}

// hidden are the runes that a terminal obeys, or that can't be seen: C1 controls, line and
// paragraph separators, format characters (directions, joiners, tags), variation
// selectors, fillers, and what is nobody's.
func hidden(c rune) bool {
	switch {
	case c < 0x80:
		return false
	case c < 0xa0, c == 0x2028, c == 0x2029, c == 0xad, c == 0x34f, c == 0x115f, c == 0x1160,
		c == 0x17b4, c == 0x17b5, c == 0x3164, c == 0xffa0, c >= 0x180b && c <= 0x180f,
		c >= 0xfe00 && c <= 0xfe0f, c >= 0xe0000 && c <= 0xe0fff:
		return true
	case c >= 0x2500 && c <= 0x28ff: // boxes and braille: our own drawings
		return false
	}
	return unicode.In(c, unicode.Cf, unicode.Cs, unicode.Co) || !unicode.IsPrint(c) && !unicode.Is(unicode.Zs, c)
}

// cells is how many columns cleaned text takes.
func cells(s string) int {
	if plain(s) {
		return len(s)
	}
	return ansi.StringWidth(s)
}

// ending shortens a chip's number to its last n letters: numbers of one lot begin alike.
func ending(s, mark string, n int) string {
	s = clean(s)
	if !plain(s) || len(s) <= n || n <= cells(mark) {
		return s
	}
	return mark + s[len(s)-n+cells(mark):]
}

// cut shortens cleaned text to w columns, the last of them the mark of the cut.
func cut(s string, w int, mark string) string {
	if w <= 0 {
		return ""
	}
	if plain(s) {
		if len(s) <= w {
			return s
		}
		return s[:w-1] + mark
	}
	return ansi.Truncate(s, w, mark)
}
