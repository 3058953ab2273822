package ruling

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"twinmat/reconcile/race"
)

// made is when a ruling was made, on the clock of the laptop it was made on.
func made(x *race.Ruling) race.Instant {
	t, err := time.Parse(time.RFC3339Nano, x.Made)
	if err != nil {
		return race.NoInstant
	}
	return race.Of(t)
}

const wantMoment = "hh:mm:ss[.fff] on the race's date, or a date and time like 2026-05-17T10:41:07.320+01:00"

// Moment reads the forms of --at, --from and --to: RFC 3339, with or without a zone, or
// hh:mm:ss[.fff] on the race's date. What is finer than a millisecond is cut off. Of two
// moments that a wall clock shows alike, where summer time ends, it is the earlier; one that
// it never shows is an error.
func Moment(p *race.Plan, s string) (race.Instant, error) {
	s = strings.TrimSpace(s)
	if t, err := time.Parse(time.RFC3339Nano, s); err == nil {
		return inReach(t)
	}
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "15:04:05"} {
		t, err := time.Parse(form, s)
		if err != nil {
			continue
		}
		if form == "15:04:05" {
			y, m, d := p.Date.Date()
			t = time.Date(y, m, d, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
		}
		if _, err := inReach(t); err != nil {
			return race.NoInstant, err
		}
		return wall(t, p.Zone)
	}
	return race.NoInstant, fmt.Errorf("%s is no moment; want %s", race.Quote(s), wantMoment)
}

// inReach refuses years that are slips. Long ago, too, zones were off by odd seconds, which
// the written form can't hold.
func inReach(t time.Time) (race.Instant, error) {
	if y := t.UTC().Year(); y < 1980 || y > 2999 {
		return race.NoInstant, fmt.Errorf("the year %d is no race's; want 1980 to 2999", y)
	}
	return race.Of(t), nil
}

// wall is the moment at which a wall clock in the zone reads as t does in UTC.
func wall(t time.Time, zone *time.Location) (race.Instant, error) {
	ms := t.UnixMilli()
	for _, day := range []int64{-1, +1} { // the offset before a change of the clocks gives the earlier moment
		_, offset := time.UnixMilli(ms + day*24*3600_000).In(zone).Zone()
		at := ms - int64(offset)*1000
		if _, there := time.UnixMilli(at).In(zone).Zone(); there == offset {
			return race.Instant(at), nil
		}
	}
	return race.NoInstant, fmt.Errorf("no clock shows %s in %s: summer time begins", t.Format("2006-01-02 15:04:05"), zone)
}

const wantLength = "a length of time like +2m, -12.5s or 1h30m"

// maxLength is beyond any penalty and any clock's error but a wrong year's.
const maxLength = 10_000 * 3600_000

// Length reads the forms of --by, --offset and --plus-minus: "+2m", "-12.5s", "1m30s", or
// bare seconds, "-12.500", as rulings hold them. What is finer than a millisecond is cut off.
func Length(s string) (race.Millis, error) {
	bad := fmt.Errorf("%s is no length of time; want %s", race.Quote(s), wantLength)
	rest := strings.TrimSpace(s)
	negative := strings.HasPrefix(rest, "-")
	if negative || strings.HasPrefix(rest, "+") {
		rest = rest[1:]
	}
	if rest == "" {
		return 0, bad
	}
	total, last := int64(0), int64(maxLength)
	for rest != "" {
		n := len(rest) - len(strings.TrimLeft(rest, "0123456789."))
		number := rest[:n]
		unit, after := unitOf(rest[n:])
		if n == len(rest) && last == maxLength { // a bare number is seconds, "1m30" is a slip
			unit = 1000
		}
		ms, ok := thousandths(number, unit)
		if unit == 0 || unit >= last || !ok || after != "" && strings.Contains(number, ".") {
			return 0, bad
		}
		if total += ms; total > maxLength {
			return 0, fmt.Errorf("%s is too long; want at most 10000 hours", race.Quote(s))
		}
		rest, last = after, unit
	}
	if negative {
		total = -total
	}
	return race.Millis(total), nil
}

// unitOf is the milliseconds of the unit that s begins with, 0 for none.
func unitOf(s string) (int64, string) {
	switch {
	case s == "":
		return 0, ""
	case strings.HasPrefix(s, "ms"):
		return 1, s[2:]
	case s[0] == 'h':
		return 3600_000, s[1:]
	case s[0] == 'm':
		return 60_000, s[1:]
	case s[0] == 's':
		return 1000, s[1:]
	}
	return 0, s
}

// thousandths is a decimal number of units in milliseconds, cut off, in whole numbers: a
// rounded one would not read back as it was written.
func thousandths(number string, unit int64) (int64, bool) {
	before, fraction, point := strings.Cut(number, ".")
	if before == "" || point && fraction == "" || len(before) > 11 {
		return 0, false
	}
	n, err := strconv.ParseInt(before, 10, 64)
	if err != nil {
		return 0, false
	}
	part, scale := int64(0), int64(1)
	for _, c := range fraction[:min(len(fraction), 9)] {
		if c < '0' || c > '9' {
			return 0, false
		}
		part, scale = part*10+int64(c-'0'), scale*10
	}
	if strings.Contains(fraction, ".") {
		return 0, false
	}
	return n*unit + part*unit/scale, true
}

// signed writes a length as rulings hold it.
func signed(d race.Millis) string {
	if d >= 0 {
		return "+" + d.Decimal()
	}
	return d.Decimal()
}

// whole reads a number from 1, 0 for none.
func whole(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return 0
	}
	return n
}

func noLine(id string) string   { return "the plan has no line " + race.Quote(id) }
func noWave(id string) string   { return "the plan has no wave " + race.Quote(id) }
func noCourse(id string) string { return "the plan has no course " + race.Quote(id) }
func noSystem(s string) string  { return race.Quote(s) + " is no system; want main, backup or hand" }
func noBib(bib string) string {
	return "nobody on the list has bib " + race.Quote(bib) + "; add-athlete puts somebody there"
}
