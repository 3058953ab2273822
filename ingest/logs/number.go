package logs

import "encoding/binary"

// unix reads seconds (with a fraction or not), milliseconds or microseconds since 1970,
// told apart by their size where the plan names no form.
func (s *stamper) unix(b []byte) (kind, int64) {
	n, v := 0, int64(0)
	for n < len(b) && n < 18 && isDigit(b[n]) {
		v = v*10 + int64(b[n]-'0')
		n++
	}
	frac := int64(0)
	if n < len(b) {
		f := 0
		if b[n] == '.' || b[n] == ',' {
			frac, f = fraction(b[n+1:])
		}
		if f == 0 || n+1+f != len(b) {
			if s.why = whyNoForm; n == 18 && isDigit(b[n]) {
				s.why = whyUnit
			}
			return notTime, 0
		}
	}
	ms, ok := s.unixUnit(v, frac, n)
	if !ok {
		return notTime, 0
	}
	if n < len(b) {
		s.comma = b[n] == ','
	}
	return instant, ms
}

// unixUnit finds the unit of v.
func (s *stamper) unixUnit(v, frac int64, n int) (ms int64, ok bool) {
	f := s.want
	if f == formAny {
		switch {
		case n == 9 || n == 10:
			f = formUnixS
		case n == 12 || n == 13:
			f = formUnixMS
		case n == 15 || n == 16:
			f = formUnixUS
		}
	}
	switch {
	case f == formUnixS && v < 1<<40:
		ms = v*1000 + frac
	case f == formUnixMS:
		ms = v
	case f == formUnixUS:
		ms = v / 1000
	case f == formAny || f == formUnixS:
		s.why = whyUnit
		return 0, false
	default:
		s.why = whyOtherForm
		return 0, false
	}
	s.form = f
	return ms, true
}

// micros reads sixteen digits, eight at a time, as microseconds since 1970, cut to the
// millisecond.
func micros(b []byte) (ms int64, ok bool) {
	hi, ok1 := eightDigits(binary.LittleEndian.Uint64(b[:8]))
	lo, ok2 := eightDigits(binary.LittleEndian.Uint64(b[8:16]))
	return int64(hi*100_000_000+lo) / 1000, ok1 && ok2
}

// eightDigits joins neighbours: digits to pairs, pairs to fours, fours to eight.
func eightDigits(v uint64) (n uint64, ok bool) {
	v -= 0x3030303030303030
	if (v|(v+0x7676767676767676))&0x8080808080808080 != 0 {
		return 0, false
	}
	v = (v*10 + v>>8) & 0x00FF00FF00FF00FF
	v = (v*100 + v>>16) & 0x0000FFFF0000FFFF
	return (v*10000 + v>>32) & 0xFFFFFFFF, true
}
