package logs

import (
	"bytes"
	"encoding/binary"
)

// kind is what a time text says about the moment it means.
type kind uint8

const (
	notTime kind = iota
	instant      // milliseconds since 1970-01-01T00:00:00Z
	local        // the same, of a clock on the wall: the zone is to be added
	clock        // milliseconds since a midnight that the text doesn't name
)

// form is a way of writing times; formAny where the plan names none.
type form uint8

const (
	formAny form = iota
	formRFC3339
	formDatetime
	formClock
	formUnixS
	formUnixMS
	formUnixUS
)

var formNames = [...]string{"", "rfc3339", "datetime", "clock", "unix-s", "unix-ms", "unix-us"}

func (f form) String() string { return formNames[f] }

func formOf(name string) form {
	for i, s := range formNames {
		if s == name {
			return form(i)
		}
	}
	return formAny
}

const (
	minuteMS = int64(60_000)
	hourMS   = 60 * minuteMS
	dayMS    = 24 * hourMS
)

// stamper reads time texts. The day of the last date is kept: a log says the same date
// thousands of times on end.
type stamper struct {
	want    form
	day     int64 // milliseconds of the last date's midnight, as if it were UTC
	date    [10]byte
	nearDay int64   // days since 1970 of the race: settles 03/04; noDay: unknown
	zone    [6]byte // the last offset's text, as in +01:00
	offset  int64
	why     string
	form    form // of the last text read
	comma   bool // the last text had a decimal comma
}

const noDay = int64(-1) << 40

// read tells the moment of b. On notTime s.why says what is wrong.
func (s *stamper) read(b []byte) (kind, int64) {
	if len(b) >= 23 && [10]byte(b[:10]) == s.date && s.want <= formDatetime {
		if k, ms := s.again(b); k != notTime {
			return k, ms
		}
	}
	if len(b) >= 19 && b[4] == '-' && b[7] == '-' {
		return s.dated(b)
	}
	s.why = whyNoForm
	if len(b) >= 7 && (b[2] == ':' || b[1] == ':') {
		return s.clockOnly(b)
	}
	if len(b) >= 9 && isDigit(b[0]) {
		if len(b) >= 17 && (b[2] == '/' || b[2] == '.' || b[4] == '/' || b[4] == '.') {
			return s.otherDate(b)
		}
		return s.unix(b)
	}
	return notTime, 0
}

// Reasons that a time can't be read.
const (
	whyNoForm    = "is none of the known forms of time"
	whyNoDate    = "names a day that doesn't exist"
	whyRange     = "is past the end of its minute, hour or day"
	whyLeap      = "is a leap second (second 60), which no instant here stands for"
	whyAmbiguous = "may be day/month or month/day"
	whyZone      = "ends in something that is no zone"
	whyUnit      = "is no count of seconds, milliseconds or microseconds of these years"
	whyOtherForm = "isn't in the time_format that the plan names"
	whyGap       = "doesn't exist: the clocks went forward over it"
)

// again reads the commonest form, yyyy-mm-dd hh:mm:ss.fff with a zone like the last or
// without, where the date is the last one. On notTime the general way is to be tried.
func (s *stamper) again(b []byte) (kind, int64) {
	// Eight bytes at once, less "00:00:00": digits become 0 to 9, colons 0. Anything else
	// shows in a byte's highest bit, at once or after adding what carries 10 (a colon's
	// place: 1) up to it.
	const zeros, limits, high = 0x30303A30303A3030, 0x76767F76767F7676, 0x8080808080808080
	v := binary.LittleEndian.Uint64(b[11:19]) - zeros
	x, y, z := b[20]-'0', b[21]-'0', b[22]-'0'
	if (v|(v+limits))&high != 0 || x > 9 || y > 9 || z > 9 || b[19] != '.' && b[19] != ',' || b[10] != 'T' && b[10] != ' ' {
		return notTime, 0
	}
	h := int64(v&15*10 + v>>8&15)
	m := int64(v>>24&15*10 + v>>32&15)
	sec := int64(v>>48&15*10 + v>>56)
	if h > 23 || m > 59 || sec > 59 {
		return notTime, 0
	}
	ms := s.day + h*hourMS + m*minuteMS + sec*1000 + int64(x)*100 + int64(y)*10 + int64(z)
	switch rest := b[23:]; {
	case len(rest) == 0:
		s.form = formDatetime
		s.comma = b[19] == ','
		return local, ms
	case len(rest) == 1 && rest[0] == 'Z':
	case len(rest) == 6 && [6]byte(rest) == s.zone:
		ms -= s.offset
	default:
		return notTime, 0
	}
	s.form = formRFC3339
	s.comma = b[19] == ','
	return instant, ms
}

func (s *stamper) dated(b []byte) (kind, int64) {
	if [10]byte(b[:10]) != s.date {
		y, ok1 := digits(b[0:4])
		m, ok2 := digits(b[5:7])
		d, ok3 := digits(b[8:10])
		if !ok1 || !ok2 || !ok3 {
			s.why = whyNoForm
			return notTime, 0
		}
		day, ok := civilDay(y, m, d)
		if !ok {
			s.why = whyNoDate
			return notTime, 0
		}
		s.day = day * dayMS
		s.date = [10]byte(b[:10])
	}
	if b[10] != 'T' && b[10] != ' ' && b[10] != 't' {
		s.why = whyNoForm
		return notTime, 0
	}
	return s.afterDate(s.day, b[11:])
}

// afterDate reads hh:mm:ss[.fff][zone] on the day that begins at day.
func (s *stamper) afterDate(day int64, b []byte) (kind, int64) {
	ms, n := s.hms(b)
	if n == 0 {
		return notTime, 0
	}
	ms += day
	rest := b[n:]
	if len(rest) == 0 {
		if s.want != formAny && s.want != formDatetime && s.want != formRFC3339 {
			s.why = whyOtherForm
			return notTime, 0
		}
		s.form = formDatetime
		return local, ms
	}
	if s.want != formAny && s.want != formRFC3339 && s.want != formDatetime {
		s.why = whyOtherForm
		return notTime, 0
	}
	off, ok := zoneOffset(rest)
	if !ok {
		s.why = whyZone
		return notTime, 0
	}
	if len(rest) == 6 {
		s.zone, s.offset = [6]byte(rest), off
	}
	s.form = formRFC3339
	return instant, ms - off
}

// hms reads hh:mm:ss[.fff] at the start of b and tells how many bytes it took, 0: none.
// Digits past the millisecond are cut.
func (s *stamper) hms(b []byte) (ms int64, n int) {
	if len(b) < 8 || b[2] != ':' || b[5] != ':' {
		s.why = whyNoForm
		return 0, 0
	}
	h1, h2, m1, m2, s1, s2 := b[0]-'0', b[1]-'0', b[3]-'0', b[4]-'0', b[6]-'0', b[7]-'0'
	if h1 > 9 || h2 > 9 || m1 > 9 || m2 > 9 || s1 > 9 || s2 > 9 {
		s.why = whyNoForm
		return 0, 0
	}
	h, m, sec := int64(h1)*10+int64(h2), int64(m1)*10+int64(m2), int64(s1)*10+int64(s2)
	if h > 23 || m > 59 || sec > 59 {
		s.why = whyRange
		if sec == 60 && m <= 59 && h <= 23 {
			s.why = whyLeap
		}
		return 0, 0
	}
	ms = h*hourMS + m*minuteMS + sec*1000
	if len(b) == 8 || b[8] != '.' && b[8] != ',' {
		return ms, 8
	}
	frac, n := fraction(b[9:])
	if n == 0 {
		s.why = whyNoForm
		return 0, 0
	}
	s.comma = b[8] == ','
	return ms + frac, 9 + n
}

// fraction reads the digits after a decimal sign as milliseconds, cut.
func fraction(b []byte) (ms int64, n int) {
	if len(b) >= 3 {
		x, y, z := b[0]-'0', b[1]-'0', b[2]-'0'
		if x <= 9 && y <= 9 && z <= 9 {
			n = 3
			for n < len(b) && isDigit(b[n]) {
				n++
			}
			return int64(x)*100 + int64(y)*10 + int64(z), n
		}
	}
	unit := int64(100)
	for n < len(b) && isDigit(b[n]) {
		ms += int64(b[n]-'0') * unit
		unit /= 10
		n++
	}
	return ms, n
}

// zoneOffset reads Z, ±hh:mm, ±hhmm, ±hh or UTC, with a space before it or not.
func zoneOffset(b []byte) (ms int64, ok bool) {
	if len(b) == 1 && (b[0] == 'Z' || b[0] == 'z') {
		return 0, true
	}
	b = bytes.TrimLeft(b, " ")
	switch string(b) {
	case "Z", "z", "UTC", "GMT":
		return 0, true
	}
	if len(b) < 3 || b[0] != '+' && b[0] != '-' {
		return 0, false
	}
	h, ok := digits(b[1:3])
	m := 0
	if ok && len(b) > 3 {
		rest := b[3:]
		if rest[0] == ':' {
			rest = rest[1:]
		}
		if len(rest) != 2 {
			return 0, false
		}
		m, ok = digits(rest)
	}
	if !ok || h > 23 || m > 59 {
		return 0, false
	}
	ms = int64(h)*hourMS + int64(m)*minuteMS
	if b[0] == '-' {
		ms = -ms
	}
	return ms, true
}

// clockOnly reads h:mm:ss[.fff] and hh:mm:ss[.fff].
func (s *stamper) clockOnly(b []byte) (kind, int64) {
	if s.want != formAny && s.want != formClock {
		s.why = whyOtherForm
		return notTime, 0
	}
	var padded [32]byte
	if b[1] == ':' {
		if len(b) > len(padded)-1 {
			return notTime, 0
		}
		padded[0] = '0'
		b = padded[:1+copy(padded[1:], b)]
	}
	ms, n := s.hms(b)
	if n == 0 {
		return notTime, 0
	}
	if n != len(b) {
		s.why = whyNoForm
		return notTime, 0
	}
	s.form = formClock
	return clock, ms
}
