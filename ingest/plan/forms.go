package plan

import (
	"math"
	"strconv"
	"strings"

	"twinmat/reconcile/race"
)

// A length of time beyond ten thousand hours, or a distance beyond the equator's round, is a slip.
const (
	maxLength   = race.Millis(10_000 * 3600 * 1000)
	maxDistance = 40_075_000 // metres
)

const (
	wantLength   = `a length of time such as "5s", "1m30s", "3h30m" or "0.2s"`
	wantDistance = `a distance such as "2.0m", "10km" or "3.1mi"`
	wantSpeed    = `a speed such as "12 m/s" or "43 km/h"`
)

// Length reads a length of time: "5s", "1m30s", "+3.217s", "-12.5s", "3h30m", "0.2s". What is
// finer than a millisecond is cut off.
func Length(s string) (race.Millis, error) {
	bad := func(what string) (race.Millis, error) {
		return 0, faultf(wantLength, "%s %s", quote(s), what)
	}
	rest, negative := sign(strings.TrimSpace(s))
	if rest == "" {
		return bad("is not a length of time")
	}
	total, last := race.Millis(0), math.MaxInt
	for rest != "" {
		whole, fraction, left, ok := decimal(rest)
		if !ok {
			return bad("is not a length of time")
		}
		unit, after := timeUnit(strings.TrimLeft(left, " "))
		switch {
		case unit == 0:
			return bad("has no unit h, m, s or ms")
		case unit >= last:
			return bad("has its units out of order")
		case fraction != "" && strings.TrimSpace(after) != "":
			return bad("has a fraction before its last unit")
		}
		n, err := strconv.ParseInt(whole, 10, 64)
		if err != nil || n > int64(maxLength)/int64(unit) {
			return bad("is too long")
		}
		total += race.Millis(n)*race.Millis(unit) + part(fraction, unit)
		if total > maxLength {
			return bad("is too long")
		}
		last, rest = unit, strings.TrimSpace(after)
	}
	if negative {
		total = -total
	}
	return total, nil
}

// timeUnit is the milliseconds of the unit at the start of s, 0 when there is none.
func timeUnit(s string) (ms int, rest string) {
	switch {
	case strings.HasPrefix(s, "ms"):
		return 1, s[2:]
	case strings.HasPrefix(s, "h"):
		return 3600_000, s[1:]
	case strings.HasPrefix(s, "m"):
		return 60_000, s[1:]
	case strings.HasPrefix(s, "s"):
		return 1000, s[1:]
	}
	return 0, s
}

// part is the decimal fraction of a unit in whole milliseconds, cut off. Nine digits of an
// hour are finer than a millisecond.
func part(fraction string, unit int) race.Millis {
	if fraction == "" {
		return 0
	}
	digits := fraction[:min(len(fraction), 9)]
	n, scale := int64(0), int64(1)
	for i := range len(digits) {
		n, scale = n*10+int64(digits[i]-'0'), scale*10
	}
	return race.Millis(n * int64(unit) / scale)
}

// sign takes a leading + or - off.
func sign(s string) (rest string, negative bool) {
	if strings.HasPrefix(s, "+") || strings.HasPrefix(s, "-") {
		return s[1:], s[0] == '-'
	}
	return s, false
}

// decimal takes digits, and a point with digits if there is one, off the start of s.
func decimal(s string) (whole, fraction, rest string, ok bool) {
	i := digits(s)
	if i == 0 {
		return "", "", s, false
	}
	whole, rest = s[:i], s[i:]
	if strings.HasPrefix(rest, ".") {
		j := digits(rest[1:])
		if j == 0 {
			return "", "", s, false
		}
		fraction, rest = rest[1:1+j], rest[1+j:]
	}
	return whole, fraction, rest, true
}

func digits(s string) int {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return i
}

// metres reads a distance in metres: "2.0m", "10km", "3.1mi".
func metres(s string) (float64, error) {
	d, ok := measure(s, map[string]unit{"m": {exp: 0}, "km": {exp: 3}, "mi": {factor: 1609.344}})
	switch {
	case !ok:
		return 0, faultf(wantDistance, "%s is not a distance", quote(s))
	case math.Abs(d) > maxDistance:
		return 0, faultf(wantDistance, "%s is too far", quote(s))
	}
	return d, nil
}

// speed reads a speed in metres a second: "12 m/s", "43 km/h".
func speed(s string) (float64, error) {
	v, ok := measure(s, map[string]unit{"m/s": {exp: 0}, "km/h": {factor: 1 / 3.6}, "mi/h": {factor: 0.44704}})
	switch {
	case !ok:
		return 0, faultf(wantSpeed, "%s is not a speed", quote(s))
	case v <= 0 || v > 500:
		return 0, faultf(wantSpeed+", above 0 and up to 500 m/s", "the speed is %s", quote(s))
	}
	return v, nil
}

// unit scales by a power of ten, which is exact, or else by a factor.
type unit struct {
	exp    int
	factor float64
}

// measure reads a decimal number with a unit after it.
func measure(s string, units map[string]unit) (float64, bool) {
	rest, negative := sign(strings.TrimSpace(s))
	whole, fraction, rest, ok := decimal(rest)
	u, known := units[strings.TrimSpace(rest)]
	if !ok || !known || len(whole)+len(fraction) > 40 {
		return 0, false
	}
	if fraction == "" {
		fraction = "0"
	}
	// 21.0975km is the number nearest 21097.5, not the nearest to a rounded 21.0975 times 1000.
	v, err := strconv.ParseFloat(whole+"."+fraction+"e"+strconv.Itoa(u.exp), 64)
	if err != nil {
		return 0, false
	}
	if u.factor != 0 {
		v = float64(v * u.factor)
	}
	if negative {
		v = -v
	}
	return v, true
}

const wantID = "a short name without spaces, commas, colons and slashes"

// checkID refuses what would break an id apart where ids are listed and joined.
func checkID(s string) error {
	return checkName(s, `,:;/\`, wantID)
}

func checkBib(s string) error { return unfit(race.CheckBib(s)) }

func checkName(s, barred, want string) error { return unfit(race.CheckName(s, barred, want)) }

func unfit(u *race.Unfit) error {
	if u == nil {
		return nil
	}
	return &fault{u.What, u.Want}
}
