package race

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"time"
)

// Instant is a moment in milliseconds since 1970-01-01T00:00:00Z.
type Instant int64

// NoInstant stands where there is no moment: a gun not yet fired, a finish not yet made.
const NoInstant Instant = math.MinInt64

// Millis is a length of time in milliseconds.
type Millis int64

// NoMillis stands where there is no length of time.
const NoMillis Millis = math.MinInt64

// Known tells whether the instant is one.
func (t Instant) Known() bool { return t != NoInstant }

// Add moves an instant; no instant stays none.
func (t Instant) Add(d Millis) Instant {
	if t == NoInstant {
		return t
	}
	return t + Instant(d)
}

// Sub is the length from u to t, NoMillis when either is unknown.
func (t Instant) Sub(u Instant) Millis {
	if t == NoInstant || u == NoInstant {
		return NoMillis
	}
	return Millis(t - u)
}

// Of is the instant of a time.Time, cut to the millisecond.
func Of(t time.Time) Instant { return Instant(t.UnixMilli()) }

// Time is the instant as a time.Time in the given zone.
func (t Instant) Time(zone *time.Location) time.Time {
	return time.UnixMilli(int64(t)).In(zone)
}

// Format writes RFC 3339 with milliseconds in the zone, "" for no instant.
func (t Instant) Format(zone *time.Location) string {
	return string(t.Append(make([]byte, 0, 29), zone))
}

// Append appends what Format writes.
func (t Instant) Append(b []byte, zone *time.Location) []byte {
	if t == NoInstant {
		return b
	}
	at := t.Time(zone)
	year, month, day := at.Date()
	if year < 0 || year > 9999 {
		return at.AppendFormat(b, "2006-01-02T15:04:05.000Z07:00")
	}
	hour, minute, second := at.Clock()
	ms := at.Nanosecond() / 1e6
	b = digits(b, year/100) // written out: an export has a million of them
	b = append(digits(b, year%100), '-')
	b = append(digits(b, int(month)), '-')
	b = append(digits(b, day), 'T')
	b = append(digits(b, hour), ':')
	b = append(digits(b, minute), ':')
	b = append(digits(b, second), '.')
	b = append(b, byte('0'+ms/100))
	b = digits(b, ms%100)
	_, offset := at.Zone()
	if offset == 0 {
		return append(b, 'Z')
	}
	sign := byte('+')
	if offset /= 60; offset < 0 {
		sign, offset = '-', -offset
	}
	b = append(b, sign)
	b = append(digits(b, offset/60), ':')
	return digits(b, offset%60)
}

// digits appends a number of two digits.
func digits(b []byte, n int) []byte { return append(b, byte('0'+n/10), byte('0'+n%10)) }

// Clock writes hh:mm:ss in the zone, "" for no instant.
func (t Instant) Clock(zone *time.Location) string {
	if t == NoInstant {
		return ""
	}
	return t.Time(zone).Format("15:04:05")
}

// Known tells whether the length is one.
func (d Millis) Known() bool { return d != NoMillis }

// Seconds is the length in seconds.
func (d Millis) Seconds() float64 { return float64(d) / 1000 }

// String writes h:mm:ss.fff, "" for no length.
func (d Millis) String() string { return string(d.Append(make([]byte, 0, 16))) }

// Append appends what String writes.
func (d Millis) Append(b []byte) []byte {
	if d == NoMillis {
		return b
	}
	b, d = unsigned(b, d)
	b = append(strconv.AppendInt(b, int64(d/3600000), 10), ':')
	b = append(digits(b, int(d/60000%60)), ':')
	return fraction(digits(b, int(d/1000%60)), d)
}

// Decimal writes the length as seconds with three decimals.
func (d Millis) Decimal() string { return string(d.AppendDecimal(make([]byte, 0, 16))) }

// AppendDecimal appends what Decimal writes.
func (d Millis) AppendDecimal(b []byte) []byte {
	if d == NoMillis {
		return b
	}
	b, d = unsigned(b, d)
	return fraction(strconv.AppendInt(b, int64(d/1000), 10), d)
}

// unsigned appends the sign of a length that has one, and gives the length without.
func unsigned(b []byte, d Millis) ([]byte, Millis) {
	if d < 0 {
		return append(b, '-'), -d
	}
	return b, d
}

// fraction appends the part below a second.
func fraction(b []byte, d Millis) []byte {
	return digits(append(b, '.', byte('0'+d/100%10)), int(d%100))
}

// Rounding is how an official time is brought to its unit, in whole milliseconds.
type Rounding struct {
	Name string // as in the plan: "up-1s", "none" …
	Unit Millis // 0: none
	Up   bool
}

// Roundings are the forms that a plan may name.
var Roundings = []Rounding{
	{Name: "none"},
	{Name: "up-1s", Unit: 1000, Up: true}, {Name: "up-0.1s", Unit: 100, Up: true}, {Name: "up-0.01s", Unit: 10, Up: true},
	{Name: "down-1s", Unit: 1000}, {Name: "down-0.1s", Unit: 100}, {Name: "down-0.01s", Unit: 10},
}

// Apply rounds to the next longer unit, or down; an exact unit stays. World Athletics
// Technical Rule 19.24.5: 2:09:44.3 becomes 2:09:45.
func (r Rounding) Apply(d Millis) Millis {
	if r.Unit == 0 || d == NoMillis {
		return d
	}
	rest := d % r.Unit
	if rest < 0 {
		rest += r.Unit
	}
	if rest == 0 {
		return d
	}
	if r.Up {
		return d - rest + r.Unit
	}
	return d - rest
}

// CanonicalTag is a tag as tags compare: upper case, without spaces and separators.
func CanonicalTag(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z':
			b.WriteByte(c - 'a' + 'A')
		case c == ' ' || c == '\t' || c == '-' || c == ':' || c == '.' || c == '_' || c == '/' || c == '\'':
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// CompareBibs orders bibs: numbers by value and before other words, those by their text.
func CompareBibs(a, b string) int {
	x, okA := number(a)
	y, okB := number(b)
	switch {
	case okA && okB && x != y:
		return cmp.Compare(x, y)
	case okA != okB:
		if okA {
			return -1
		}
		return 1
	}
	return strings.Compare(a, b)
}

func number(s string) (uint64, bool) {
	if s == "" || len(s) > 18 {
		return 0, false
	}
	var n uint64
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + uint64(s[i]-'0')
	}
	return n, true
}
