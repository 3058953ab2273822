package ruling

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"twinmat/reconcile/race"
)

// instant reads a moment as rulings hold it: RFC 3339.
func instant(s string) race.Instant {
	if s == "" {
		return race.NoInstant
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return race.NoInstant
	}
	return race.Of(t)
}

// Moment reads the forms of --at, --from and --to: RFC 3339, with or without zone, or
// hh:mm:ss[.fff] on the race's date. What is finer than a millisecond is cut.
func Moment(p *race.Plan, s string) (race.Instant, error) {
	if t, err := time.Parse(time.RFC3339Nano, s); err == nil {
		return race.Of(t), nil
	}
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05"} {
		if t, err := time.Parse(form, s); err == nil {
			return wall(t, p.Zone), nil
		}
	}
	for _, form := range []string{"15:04:05", "15:04"} {
		if t, err := time.Parse(form, s); err == nil {
			y, m, d := p.Date.Date()
			return wall(time.Date(y, m, d, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC), p.Zone), nil
		}
	}
	return race.NoInstant, fmt.Errorf("%q is no moment; want hh:mm:ss[.fff] on the race's date, or like 2026-05-17T10:41:07.320+01:00", s)
}

// wall is a time without zone in the race's zone; the earlier of two where summer time ends.
func wall(t time.Time, zone *time.Location) race.Instant {
	u := t.UnixMilli()
	for _, probe := range []int64{u - 24*3600000, u + 24*3600000} { // the offset before a change is tried first
		_, off := time.UnixMilli(probe).In(zone).Zone()
		x := u - int64(off)*1000
		if _, got := time.UnixMilli(x).In(zone).Zone(); got == off {
			return race.Instant(x)
		}
	}
	_, off := time.UnixMilli(u - 24*3600000).In(zone).Zone()
	return race.Instant(u - int64(off)*1000)
}

// Length reads the forms of --by, --offset and --plus-minus: "+2m", "-12.5s", "1m30s", or
// bare seconds.
func Length(s string) (race.Millis, error) {
	if f, err := strconv.ParseFloat(s, 64); err == nil && f > -1e9 && f < 1e9 {
		return millis(s), nil
	}
	d, err := time.ParseDuration(strings.TrimPrefix(s, "+"))
	if err != nil {
		return 0, fmt.Errorf("%q is no length of time; want like +2m, -12.5s or 3.217s", s)
	}
	return race.Millis(d.Milliseconds()), nil
}

// signed writes a length as rulings hold it.
func signed(d race.Millis) string {
	if d >= 0 {
		return "+" + d.Decimal()
	}
	return d.Decimal()
}
