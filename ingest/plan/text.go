package plan

import (
	"bytes"
	"encoding/binary"
	"sort"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// plainText brings a file to UTF-8 without a byte order mark. Spreadsheets write "Unicode
// text" as UTF-16 and "CSV" in the code page of the machine; the latter can only be guessed,
// and guessed says from which byte on it was, -1 when nothing was guessed.
func plainText(b []byte) (text []byte, guessed int) {
	switch {
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		b = b[3:]
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}):
		return wide(b[2:], binary.LittleEndian), -1
	case bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		return wide(b[2:], binary.BigEndian), -1
	case len(b) >= 4 && b[0] != 0 && b[1] == 0 && b[3] == 0:
		return wide(b, binary.LittleEndian), -1
	case len(b) >= 4 && b[0] == 0 && b[1] != 0 && b[2] == 0:
		return wide(b, binary.BigEndian), -1
	}
	if at := firstInvalid(b); at >= 0 {
		// Windows-1252 gives every byte a character, so decoding can't fail.
		if out, err := charmap.Windows1252.NewDecoder().Bytes(b); err == nil {
			return out, at
		}
	}
	return b, -1
}

// wide decodes UTF-16; a half character becomes U+FFFD.
func wide(b []byte, order binary.ByteOrder) []byte {
	units := make([]uint16, 0, len(b)/2+1)
	for ; len(b) >= 2; b = b[2:] {
		units = append(units, order.Uint16(b))
	}
	if len(b) == 1 {
		units = append(units, utf8.RuneError)
	}
	return []byte(string(utf16.Decode(units)))
}

// firstInvalid is the place of the first byte that is not UTF-8, -1 when all is.
func firstInvalid(b []byte) int {
	if utf8.Valid(b) {
		return -1
	}
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

// lines finds line and column of an offset in a text.
type lines struct{ starts []int }

func linesOf(text []byte) lines {
	starts := []int{0}
	for i, c := range text {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	return lines{starts}
}

// place turns an offset into line and column, both from 1, the column in bytes.
func (l lines) place(at int) (line, column int) {
	line = sort.SearchInts(l.starts, at+1)
	return line, at - l.starts[line-1] + 1
}
