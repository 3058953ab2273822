package plan

import (
	"fmt"
	"strings"
	"time"

	"twinmat/reconcile/race"
)

const wantInstant = "hh:mm:ss on the race's date, or a date and time such as 2026-05-17T09:00:00 or 2026-05-17T09:00:00+01:00"

// Instant reads the forms of --at, --from and --to: RFC 3339 with or without a zone, or
// hh:mm:ss[.fff] on the race's date; what is finer than a millisecond is cut off. A wall time
// that summer time repeats is the earlier one; one that it leaves out is an error.
func Instant(p *race.Plan, s string) (race.Instant, error) {
	text := strings.TrimSpace(s)
	w := wall{}
	w.year, w.month, w.day = p.Date.Date()
	dated := len(text) > 10 && text[4] == '-'
	if dated {
		if !w.readDate(text[:10]) || !strings.ContainsRune("Tt ", rune(text[10])) {
			return race.NoInstant, faultf(wantInstant, "%s is not a time", quote(s))
		}
		text = text[11:]
	}
	clock, zone := text, ""
	if dated {
		if i := strings.IndexAny(text, "Zz+-"); i >= 0 {
			clock, zone = text[:i], text[i:]
		}
	}
	if strings.HasPrefix(clock, "24:") {
		return race.NoInstant, faultf("00:00:00 on the next day", "%s is past the end of its day", quote(s))
	}
	if !w.readClock(clock) {
		if strings.Contains(clock, ":60") {
			return race.NoInstant, faultf("seconds from 00 to 59", "%s has a second 60", quote(s))
		}
		return race.NoInstant, faultf(wantInstant, "%s is not a time", quote(s))
	}
	if zone != "" {
		offset, ok := zoneOffset(zone)
		if !ok {
			return race.NoInstant, faultf("Z or an offset such as +01:00", "%s has the zone %s", quote(s), quote(zone))
		}
		return race.Instant(w.millis() - offset), nil
	}
	return w.in(p.Zone)
}

// wall is a reading of a clock on a wall.
type wall struct {
	year      int
	month     time.Month
	day       int
	h, m, s   int
	millisecs int
}

// readDate reads yyyy-mm-dd, false if there is no such day.
func (w *wall) readDate(s string) bool {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1900 || t.Year() > 2999 {
		return false
	}
	w.year, w.month, w.day = t.Date()
	return true
}

// readClock reads h:mm[:ss[.fff]], with one or two digits an hour and a point or comma.
func (w *wall) readClock(s string) bool {
	w.h, w.m, w.s, w.millisecs = 0, 0, 0, 0
	i := digits(s)
	if i < 1 || i > 2 || !strings.HasPrefix(s[i:], ":") {
		return false
	}
	w.h = number(s[:i])
	s = s[i+1:]
	if digits(s) < 2 {
		return false
	}
	w.m = number(s[:2])
	s = s[2:]
	if s != "" {
		if s[0] != ':' || digits(s[1:]) < 2 {
			return false
		}
		w.s = number(s[1:3])
		s = s[3:]
	}
	if s != "" {
		if s[0] != '.' && s[0] != ',' || digits(s[1:]) != len(s)-1 || len(s) < 2 || len(s) > 20 {
			return false
		}
		w.millisecs = number((s[1:] + "00")[:3])
	}
	return w.h < 24 && w.m < 60 && w.s < 60
}

func number(s string) int {
	n := 0
	for i := range len(s) {
		n = n*10 + int(s[i]-'0')
	}
	return n
}

// millis is the reading as if the wall hung in UTC.
func (w wall) millis() int64 {
	return time.Date(w.year, w.month, w.day, w.h, w.m, w.s, w.millisecs*1e6, time.UTC).UnixMilli()
}

// in finds the instant at which a wall clock in the zone reads so. time.Date doesn't promise
// which of two it gives, nor on which side of a gap it lands, so the offsets on both sides of
// the nearest change are tried and checked.
func (w wall) in(zone *time.Location) (race.Instant, error) {
	at := w.millis()
	guess := time.UnixMilli(at).In(zone)
	_, offset := guess.Zone()
	near := guess.Add(-time.Duration(offset) * time.Second)
	tries := []time.Time{guess, near}
	for _, t := range []time.Time{guess, near} {
		from, to := t.ZoneBounds()
		if !from.IsZero() {
			tries = append(tries, from.Add(-time.Second))
		}
		if !to.IsZero() {
			tries = append(tries, to)
		}
	}
	found := race.NoInstant
	for _, t := range tries {
		_, offset := t.Zone()
		c := at - int64(offset)*1000
		if _, o := time.UnixMilli(c).In(zone).Zone(); o == offset && (found == race.NoInstant || c < int64(found)) {
			found = race.Instant(c)
		}
	}
	if found == race.NoInstant {
		return found, faultf("a time that the clocks there show", "%04d-%02d-%02d %02d:%02d:%02d is left out in %s: summer time begins",
			w.year, w.month, w.day, w.h, w.m, w.s, zone)
	}
	return found, nil
}

// midnight is the first moment of a day in a zone, also where summer time begins at 00:00.
func midnight(year int, month time.Month, day int, zone *time.Location) time.Time {
	w := wall{year: year, month: month, day: day}
	if at, err := w.in(zone); err == nil {
		return at.Time(zone)
	}
	// The gap begins at 00:00, so its end is the day's first moment.
	t := time.Date(year, month, day, 0, 0, 0, 0, zone)
	from, to := t.ZoneBounds()
	if from.Day() == day && from.Month() == month {
		return from
	}
	return to
}

// zoneOffset reads Z or ±hh:mm, in milliseconds.
func zoneOffset(s string) (int64, bool) {
	if s == "Z" || s == "z" {
		return 0, true
	}
	if len(s) != 6 || s[3] != ':' || digits(s[1:3]) != 2 || digits(s[4:]) != 2 {
		return 0, false
	}
	h, m := number(s[1:3]), number(s[4:])
	if h > 23 || m > 59 {
		return 0, false
	}
	ms := int64(h*60+m) * 60_000
	if s[0] == '-' {
		ms = -ms
	}
	return ms, true
}

// loadZone finds an IANA zone by its name.
func loadZone(name string) (*time.Location, error) {
	const want = `an IANA name such as "Europe/Lisbon" or "UTC"`
	if name == "" || name == "Local" || len(name) > 100 {
		return nil, faultf(want, "the time zone is %s", quote(name))
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, &fault{what: fmt.Sprintf("there is no time zone %s", quote(name)), want: want}
	}
	return zone, nil
}
