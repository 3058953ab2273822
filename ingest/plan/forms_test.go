package plan

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"twinmat/reconcile/race"
)

func TestLengthsOfTime(t *testing.T) {
	for text, want := range map[string]race.Millis{
		"5s": 5000, "1m30s": 90_000, "+3.217s": 3217, "-12.5s": -12_500, "3h30m": 12_600_000, "0.2s": 200,
		"0s": 0, "+2m": 120_000, "27m": 1_620_000, "1h": 3_600_000, "6h": 21_600_000, "200ms": 200, "1h0m0.001s": 3_600_001,
		"1.5h": 5_400_000, "0.25m": 15_000, " 5 s ": 5000, "1h 30m": 5_400_000, "90s": 90_000,
		"3.2179s": 3217, "-0.0009s": 0, "1s500ms": 1500, "9999h": 9999 * 3_600_000, "0.333333333333333333333h": 1_199_999,
	} {
		if got, err := Length(text); err != nil || got != want {
			t.Errorf("Length(%q) = %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "s", "5", "5 ", "-", "+", "--5s", "5s5s", "5s1m", "1.5m3s", ".5s", "5.s", "5x", "1e3s", "0x5s",
		"5,5s", "NaNs", "infs", "10001h", "99999999999999999999s", "5s!", "٣s", "1_0s"} {
		if got, err := Length(text); err == nil {
			t.Errorf("Length(%q) = %d; want an error", text, got)
		}
	}
}

// The length in its own written form comes back.
func TestALengthReadsItsDecimalForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := race.Millis(rapid.Int64Range(-int64(maxLength), int64(maxLength)).Draw(t, "ms"))
		if got, err := Length(d.Decimal() + "s"); err != nil || got != d {
			t.Fatalf("%s: %d, %v", d.Decimal(), got, err)
		}
	})
}

// A statute mile is 1609.344 m exactly (international yard and pound agreement, 1959), half
// and full marathon are 21.0975 and 42.195 km (World Athletics Competition Rules); as the
// number nearest to each, not one near it.
func TestDistances(t *testing.T) {
	for text, want := range map[string]float64{
		"2.0m": 2, "10km": 10_000, "3.1mi": 4988.9664, "0m": 0, "21097.5m": 21_097.5, "21.0975km": 21_097.5, "42.195km": 42_195, "1mi": 1609.344,
		"2.4km": 2400, "1.7km": 1700, "41.9km": 41_900, "-1.5m": -1.5, "+1.5m": 1.5, " 10 km ": 10_000, "20mi": 32_186.88, "0.1km": 100,
	} {
		if got, err := metres(text); err != nil || got != want {
			t.Errorf("metres(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "m", "10", "10 k", "km", "1e3m", "0x1m", "NaNm", "Infm", "1_0m", "1,5km", "5ft", "10kmm", "99999km", "-99999km", ".5km",
		"1111111111111111111111111111111111111111111m"} {
		if got, err := metres(text); err == nil {
			t.Errorf("metres(%q) = %v; want an error", text, got)
		}
	}
}

func TestSpeeds(t *testing.T) {
	for text, want := range map[string]float64{"12 m/s": 12, "30m/s": 30, "36 km/h": 10, "10 mi/h": 4.4704} {
		if got, err := speed(text); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("speed(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "12", "12 m", "0 m/s", "-1 m/s", "501 m/s", "12 m/s/s"} {
		if got, err := speed(text); err == nil {
			t.Errorf("speed(%q) = %v; want an error", text, got)
		}
	}
}

func planOn(t testing.TB, zone, day string) *race.Plan {
	t.Helper()
	z, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		t.Fatal(err)
	}
	return &race.Plan{Zone: z, Date: midnight(d.Year(), d.Month(), d.Day(), z)}
}

// Unix times of RFC 3339 section 5.8's examples, and of the hours that summer time repeats
// or leaves out by the IANA time zone database, release 2025b.
func TestInstantsOfPublishedTimes(t *testing.T) {
	for _, c := range []struct {
		zone, day, text string
		want            race.Instant
	}{
		{"UTC", "2026-05-17", "1985-04-12T23:20:50.52Z", 482196050_520},
		{"UTC", "2026-05-17", "1996-12-19T16:39:57-08:00", 851042397_000},
		{"UTC", "2026-05-17", "1937-01-01T12:00:27.87+00:20", -1041337172_130},
		{"Europe/Berlin", "2026-10-25", "02:30:00", 1792888200_000},                  // earlier of the two
		{"Europe/Berlin", "2026-10-25", "2026-10-25T02:30:00+01:00", 1792891800_000}, // the later, told by its offset
		{"America/New_York", "2026-11-01", "01:30:00", 1793511000_000},
		{"Europe/Berlin", "2026-10-24", "22:00:00", 1792872000_000},
		{"Europe/Berlin", "2026-10-24", "2026-10-25T06:00:00", 1792904400_000},
		{"America/New_York", "2026-10-31", "22:00:00", 1793498400_000},
		{"America/New_York", "2026-10-31", "2026-11-01 06:00:00", 1793530800_000},
		{"Europe/Berlin", "2026-03-28", "22:00:00", 1774731600_000},
		{"Europe/Berlin", "2026-03-28", "2026-03-29T06:00:00", 1774756800_000},
		{"Europe/Berlin", "2026-03-29", "01:59:59.999", 1774745999_999},
		{"Europe/Berlin", "2026-03-29", "03:00:00", 1774746000_000},
		{"America/New_York", "2026-03-07", "2026-03-08T06:00:00", 1772964000_000},
	} {
		got, err := Instant(planOn(t, c.zone, c.day), c.text)
		if err != nil || got != c.want {
			t.Errorf("%s in %s = %d, %v; want %d", c.text, c.zone, got, err, c.want)
		}
	}
}

func TestFormsOfInstants(t *testing.T) {
	p := planOn(t, "Europe/Lisbon", "2026-05-17")
	const nine = race.Instant(1779004800_000) // 2026-05-17T08:00:00Z
	for text, want := range map[string]race.Instant{
		"09:00:00": nine, "9:00:00": nine, "09:00": nine, "09:00:00.5": nine + 500, "09:00:00,5": nine + 500, "09:00:00.1239": nine + 123,
		"2026-05-17T09:00:00": nine, "2026-05-17 09:00:00": nine, "2026-05-17t08:00:00z": nine, "2026-05-17T10:00:00+02:00": nine,
		"2026-05-17T05:30:00-02:30": nine, "2026-05-18T09:00:00": nine + 86_400_000, " 09:00:00 ": nine,
	} {
		if got, err := Instant(p, text); err != nil || got != want {
			t.Errorf("Instant(%q) = %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "9", "24:00:00", "09:60:00", "09:00:60", "2016-12-31T23:59:60Z", "09:00:00Z", "2026-02-29T09:00:00", "2026-05-17",
		"2026-05-17T", "2026-05-17T09:00:00+0200", "2026-05-17T09:00:00+25:00", "2026-05-17x09:00:00", "09:00:00.", "09:00:00.x", "099:00:00", "-9:00:00",
		"2026-05-17T09:00:00 +02:00", "9:0:0", "0000-01-01T00:00:00Z", "1779004800"} {
		if got, err := Instant(p, text); err == nil {
			t.Errorf("Instant(%q) = %d; want an error", text, got)
		}
	}
}

func TestATimeThatSummerTimeLeavesOutIsAnError(t *testing.T) {
	for zone, text := range map[string]string{"Europe/Berlin": "2026-03-29T02:30:00", "America/New_York": "2026-03-08T02:30:00", "Australia/Lord_Howe": "2026-10-04T02:15:00"} {
		if got, err := Instant(planOn(t, zone, "2026-05-17"), text); err == nil {
			t.Errorf("%s in %s = %d; want an error", text, zone, got)
		}
	}
}

// Whatever the zone, an instant written as a wall time without offset reads as itself, or, in
// an hour that comes twice, as the earlier of the two: checked by stepping through the clock
// minute by minute around every change of a year.
func TestWallTimesOfAYearComeBack(t *testing.T) {
	for _, zone := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Casablanca", "America/Santiago", "Asia/Beirut", "UTC"} {
		p := planOn(t, zone, "2026-05-17")
		first := map[string]race.Instant{}
		from := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		for at := from; at.Year() == 2026; at = at.Add(30 * time.Minute) {
			text := at.In(p.Zone).Format("2006-01-02T15:04:05")
			if _, seen := first[text]; !seen {
				first[text] = race.Of(at)
			}
			got, err := Instant(p, text)
			if err != nil || got != first[text] {
				t.Fatalf("%s in %s = %d, %v; want %d", text, zone, got, err, first[text])
			}
		}
	}
}

// Summer time begins at midnight in Santiago and Beirut: the day begins at one.
func TestTheDayBeginsOnItsDay(t *testing.T) {
	for _, c := range []struct{ zone, day, want string }{
		{"America/Santiago", "2026-09-06", "2026-09-06T01:00:00-03:00"},
		{"Asia/Beirut", "2026-03-29", "2026-03-29T01:00:00+03:00"},
		{"Africa/Cairo", "2026-10-30", "2026-10-30T00:00:00+02:00"},
		{"Europe/Berlin", "2026-03-29", "2026-03-29T00:00:00+01:00"},
	} {
		if got := planOn(t, c.zone, c.day).Date.Format(time.RFC3339); got != c.want {
			t.Errorf("%s in %s begins %s, want %s", c.day, c.zone, got, c.want)
		}
	}
}
