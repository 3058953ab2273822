package logs

import (
	"bytes"
	"unicode/utf16"
	"unicode/utf8"
)

// encoding is how a file writes characters as bytes.
type encoding uint8

const (
	unknownEncoding encoding = iota
	bytewise                 // UTF-8, Latin-1, ASCII: taken as they are
	utf16LE
	utf16BE
)

// decoder makes UTF-8 of a file's bytes, which may be cut anywhere.
type decoder struct {
	enc     encoding
	marked  bool   // the file begins with a byte order mark
	head    []byte // the first bytes, until they tell the encoding
	odd     int16  // the first byte of a unit that the next piece completes, -1: none
	high    uint16 // the first half of a pair that the next unit completes, 0: none
	swapped int    // units on end that look like ASCII of the other byte order
	out     []byte // scratch
}

// headLen is how many bytes tell the encoding for certain.
const headLen = 4

// feed hands text to take in pieces that are valid only during the call. final says that
// nothing follows.
func (d *decoder) feed(data []byte, final bool, take func([]byte)) {
	if d.enc == unknownEncoding {
		d.head = append(d.head, data...)
		if len(d.head) < headLen && !final {
			return
		}
		data = d.head
		d.head = nil
		d.odd = -1
		data = data[d.detect(data):]
	}
	if d.enc == bytewise {
		take(data)
		return
	}
	for len(data) > 0 {
		n := min(len(data), 32<<10)
		d.out = d.units(d.out[:0], data[:n])
		take(d.out)
		data = data[n:]
	}
}

// detect sets the encoding from the first bytes and tells how long the byte order mark is.
// Without a mark, ASCII in 16-bit units shows by its zero bytes.
func (d *decoder) detect(b []byte) (mark int) {
	d.enc = bytewise
	switch {
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		d.marked = true
		return 3
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}):
		d.enc, d.marked = utf16LE, true
		return 2
	case bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		d.enc, d.marked = utf16BE, true
		return 2
	case len(b) >= 4 && b[0] != 0 && b[1] == 0 && b[2] != 0 && b[3] == 0:
		d.enc = utf16LE
	case len(b) >= 4 && b[0] == 0 && b[1] != 0 && b[2] == 0 && b[3] != 0:
		d.enc = utf16BE
	}
	return 0
}

// units appends the text of 16-bit units. A byte lost or doubled in the file shows as a
// run of units that are ASCII with their bytes exchanged; the pairing then moves by one.
func (d *decoder) units(out, data []byte) []byte {
	i := 0
	if d.odd >= 0 && len(data) > 0 {
		out = d.unit(out, byte(d.odd), data[0])
		i, d.odd = 1, -1
		if d.swapped >= 8 {
			d.swapped, i = 0, 0
		}
	}
	for ; i+1 < len(data); i += 2 {
		a, b := data[i], data[i+1]
		if d.enc == utf16BE {
			a, b = b, a
		}
		if b == 0 && a < utf8.RuneSelf && d.high == 0 {
			out = append(out, a)
			d.swapped = 0
			continue
		}
		out = d.unit(out, data[i], data[i+1])
		if d.swapped >= 8 {
			d.swapped = 0
			i--
		}
	}
	if i < len(data) {
		d.odd = int16(data[i])
	}
	return out
}

// unit appends one unit, given as its two bytes in the file's order.
func (d *decoder) unit(out []byte, a, b byte) []byte {
	if d.enc == utf16BE {
		a, b = b, a
	}
	u := uint16(b)<<8 | uint16(a)
	if a == 0 && b != 0 && b < utf8.RuneSelf {
		d.swapped++
	} else {
		d.swapped = 0
	}
	if d.high != 0 {
		r := utf16.DecodeRune(rune(d.high), rune(u))
		d.high = 0
		if r != utf8.RuneError {
			return utf8.AppendRune(out, r)
		}
		out = utf8.AppendRune(out, utf8.RuneError)
	}
	if u >= 0xD800 && u < 0xDC00 {
		d.high = u
		return out
	}
	return utf8.AppendRune(out, rune(u)) // a lone second half becomes U+FFFD
}

// held tells whether bytes wait in the decoder for the rest of a character or of the head.
func (d *decoder) held() bool {
	return len(d.head) > 0 || d.enc != unknownEncoding && (d.odd >= 0 || d.high != 0)
}
