package logs

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// one reads a single time, in a log of its own, and gives the instant in milliseconds or
// the reason that it is bad.
func one(t *testing.T, p *race.Plan, text string) (int64, string) {
	t.Helper()
	l := New(p, 0)
	l.Append(l.File("a.csv"), []byte("tag;time\nA1;"+text+"\n"))
	l.Finish()
	r := l.Reads()
	check(t, r)
	if r.Kept == 1 {
		return int64(r.Tags.At(0).Reads[0].At), ""
	}
	if len(r.Bad) != 1 {
		t.Fatalf("%q: neither a read nor a bad line", text)
	}
	return 0, r.Bad[0].Why
}

func TestPublishedTimes(t *testing.T) {
	p := planFor("UTC", 1985, 4, 12, race.Log{})
	for _, c := range []struct {
		text string
		want int64
	}{
		// RFC 3339 section 5.8.
		{"1985-04-12T23:20:50.52Z", 482196050520},
		{"1996-12-19T16:39:57-08:00", 851042397000},
		{"1996-12-20T00:39:57Z", 851042397000},
		{"1937-01-01T12:00:27.87+00:20", -1041337172130},
		// A record of an open-source LLRP client: FirstSeenTimestampUTC 1745881648793145 is
		// 2025-04-28T23:07:28.793145Z.
		{"1745881648793145", 1745881648793},
		{"2025-04-28T23:07:28.793145Z", 1745881648793},
	} {
		if got, why := one(t, p, c.text); got != c.want {
			t.Errorf("%s = %d %s; want %d", c.text, got, why, c.want)
		}
	}
	// The same section's leap second, told two ways: no instant stands for it, and the line
	// must not be lost in silence.
	for _, text := range []string{"1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"} {
		if _, why := one(t, p, text); !strings.Contains(why, "leap second") {
			t.Errorf("%s: %q; want a leap second", text, why)
		}
	}
}

func TestFormsOfTime(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{})
	const want = 1779010867320 // 2026-05-17T09:41:07.320Z, Lisbon being an hour ahead
	for _, text := range []string{
		"2026-05-17T10:41:07.320+01:00", "2026-05-17T09:41:07.32Z", "2026-05-17t09:41:07,320z", "2026-05-17 10:41:07.320",
		"2026-05-17 10:41:07,32", "2026-05-17T10:41:07.3209999", "2026-05-17 09:41:07.320 UTC", "2026-05-17 10:41:07.320 +0100",
		"2026-05-17T10:41:07.320+01", "2026/05/17 10:41:07.320", "2026.05.17 10:41:07.320", "17/05/2026 10:41:07.320",
		"05/17/2026 10:41:07.320", "17.05.2026 10:41:07,320", "10:41:07.320", "10:41:07,32", "1779010867.320", "1779010867,3209",
		"1779010867320", "1779010867320999", `"2026-05-17T10:41:07.320+01:00"`, "  2026-05-17 10:41:07.320 ",
	} {
		if got, why := one(t, p, text); got != want {
			t.Errorf("%s = %d %s; want %d", text, got, why, int64(want))
		}
	}
	if got, _ := one(t, p, "9:41:07"); got != want-3600320 {
		t.Errorf("9:41:07 = %d", got)
	}
}

func TestWhatIsNoTimeSaysWhy(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{})
	for text, want := range map[string]string{
		"": "missing", "not a time": "none of the known forms", "25:61:00.000": whyRange, "2026-02-29 10:00:00": whyNoDate,
		"2026-05-17T24:00:00Z": whyRange, "2026-05-17 10:00:60": whyLeap, "10:00:60": whyLeap, "2026-05-17 10:41:07.": whyNoForm, "2026-05-17 10:41:07+1": whyZone,
		"2026-05-17": "none", "10:41": "none", "12345678901": whyUnit, "1779010867320999000": whyUnit, "06/07/2026 10:00:00": whyAmbiguous,
		"2026-05-17 1O:41:07": whyNoForm, "99999999999999999999999": whyUnit, "31/04/2026 10:00:00": whyNoDate, "0000-01-01 00:00:00": whyNoDate,
		"2026-05-17 10:41:07.320+24:00": whyZone, "2026-03-29 01:30:00": whyGap,
	} {
		if got, why := one(t, p, text); !strings.Contains(why, want) {
			t.Errorf("%q = %d, %q; want %q", text, got, why, want)
		}
	}
}

// The form that the plan names is the only one.
func TestTheNamedFormIsTheOnlyOne(t *testing.T) {
	texts := map[string]string{"rfc3339": "2026-05-17T09:41:07.320Z", "datetime": "2026-05-17 10:41:07.320", "clock": "10:41:07.320",
		"unix-s": "1779010867.320", "unix-ms": "1779010867320", "unix-us": "1779010867320000"}
	for name := range texts {
		p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{TimeFormat: name})
		for other, text := range texts {
			got, why := one(t, p, text)
			dated := (name == "rfc3339" || name == "datetime") && (other == "rfc3339" || other == "datetime")
			switch {
			case name == other || dated:
				if got != 1779010867320 {
					t.Errorf("time_format %s: %s = %d %s", name, text, got, why)
				}
			case strings.HasPrefix(name, "unix") && strings.HasPrefix(other, "unix"):
				// A number is read in the unit named, whatever its size.
				if got == 1779010867320 {
					t.Errorf("time_format %s took %s for another unit", name, text)
				}
			case why == "":
				t.Errorf("time_format %s: took %s", name, text)
			}
		}
	}
}

// Days by the calendar against the standard library, over four centuries.
func TestDaysOfTheCalendar(t *testing.T) {
	for at := time.Date(1890, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2300; at = at.AddDate(0, 0, 1) {
		y, m, d := at.Date()
		if got, ok := civilDay(y, int(m), d); !ok || got*86400 != at.Unix() {
			t.Fatalf("%v = day %d, %v", at, got, ok)
		}
	}
	for _, none := range [][3]int{{2025, 2, 29}, {1900, 2, 29}, {2026, 4, 31}, {2026, 0, 1}, {2026, 13, 1}, {2026, 1, 0}} {
		if day, ok := civilDay(none[0], none[1], none[2]); ok {
			t.Errorf("%v is day %d", none, day)
		}
	}
}

// Wall times of whole years, quarter hour by quarter hour, in zones with all sorts of
// changes: none, one or two instants, as searching every instant tells.
func TestWallTimesHaveNoneOneOrTwoInstants(t *testing.T) {
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Casablanca", "Pacific/Apia", "America/Sao_Paulo", "UTC"} {
		for _, year := range []int{2011, 2026} {
			loc, err := time.LoadLocation(name)
			if err != nil {
				t.Fatal(err)
			}
			known := map[int64][]int64{}
			from := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli()
			to := time.Date(year+1, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli()
			for at := from - 2*dayMS; at < to+2*dayMS; at += 15 * minuteMS {
				_, off := time.UnixMilli(at).In(loc).Zone()
				wall := at + int64(off)*1000
				known[wall] = append(known[wall], at)
			}
			z := zoneTable{loc: loc}
			var odd int
			for wall := from; wall < to; wall += 15 * minuteMS {
				at, n := z.instants(wall)
				want := known[wall]
				if n != 1 {
					odd++
				}
				if n != len(want) || n > 0 && at[0] != want[0] || n > 1 && at[1] != want[1] {
					t.Fatalf("%s: wall %v = %v (%d); want %v", name, time.UnixMilli(wall).UTC(), at, n, want)
				}
			}
			// What is remembered of one stretch must not show in another.
			for wall := to - 15*minuteMS; wall >= from; wall -= 15 * minuteMS {
				if at, n := z.instants(wall); n != len(known[wall]) || n > 0 && at[0] != known[wall][0] {
					t.Fatalf("%s backwards: wall %v = %v (%d); want %v", name, time.UnixMilli(wall).UTC(), at, n, known[wall])
				}
			}
			if (name == "Europe/Berlin" || name == "America/New_York") && odd != 8 {
				t.Errorf("%s %d: %d quarter hours come twice or never; want 8", name, year, odd)
			}
		}
	}
}

// The short way of reading a time and the long way agree wherever the short one answers.
func TestTheShortWayAgreesWithTheLong(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	base := "2026-05-17T10:41:07.320+01:00"
	signs := "0123456789:.,-+TZ /az\x00\xFF"
	took := 0
	for range 200_000 {
		b := []byte(base[:23+[]int{0, 1, 6}[rng.IntN(3)]])
		if len(b) == 24 {
			b[23] = 'Z'
		}
		for range rng.IntN(4) {
			b[10+rng.IntN(len(b)-10)] = signs[rng.IntN(len(signs))]
		}
		var short, long stamper
		short.read([]byte(base))
		k1, ms1 := short.again(b)
		k2, ms2 := long.dated(b)
		if k1 != notTime {
			took++
			if k1 != k2 || ms1 != ms2 {
				t.Fatalf("%q: %d %d and %d %d", b, k1, ms1, k2, ms2)
			}
		}
	}
	if took < 10_000 {
		t.Errorf("the short way answered only %d times", took)
	}
}

// Microseconds read eight digits at a time are the digits' number; nothing else is taken.
func TestSixteenDigitsAtOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200_000 {
		n := rng.Int64N(10_000_000_000_000_000)
		b := fmt.Appendf(nil, "%016d", n)
		if ms, ok := micros(b); !ok || ms != n/1000 {
			t.Fatalf("%s = %d, %v", b, ms, ok)
		}
		i, c := rng.IntN(16), byte(rng.IntN(256))
		if b[i] = c; !isDigit(c) {
			if _, ok := micros(b); ok {
				t.Fatalf("%q was taken", b)
			}
		}
	}
}

// Every new year's night has its instants, in far years too, in zones with and without
// summer time; one of 4001 once was looked for without end.
func TestTheTurnOfFarYearsHasItsInstants(t *testing.T) {
	for _, name := range []string{"UTC", "Europe/Berlin", "America/New_York", "Australia/Sydney", "Asia/Kolkata"} {
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		for year := 1990; year < 9999; year++ {
			z := zoneTable{loc: loc}
			z.lo, z.hi = 1, 0
			for _, hour := range []int{-12, 0, 12} {
				wall := time.Date(year, 1, 1, hour, 0, 0, 0, time.UTC)
				at, n := z.instants(wall.UnixMilli())
				if n == 0 {
					t.Fatalf("%s: %v has no instant", name, wall)
				}
				if got := time.UnixMilli(at[0]).In(loc).Format("2006-01-02 15"); got != wall.Format("2006-01-02 15") {
					t.Fatalf("%s: %v is laid on %s", name, wall, got)
				}
			}
		}
	}
}
