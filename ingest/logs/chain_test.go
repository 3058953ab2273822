package logs

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// instantsOf reads lines of tag and time and gives the instants in order of the lines.
func instantsOf(t *testing.T, p *race.Plan, lines ...string) []int64 {
	t.Helper()
	l := New(p, 0)
	text := "tag,time\n"
	for i, s := range lines {
		text += fmt.Sprintf("T%d,%s\n", i, s)
	}
	l.Append(l.File("a.csv"), []byte(text))
	l.Finish()
	r := l.Reads()
	check(t, r)
	at := make([]int64, len(lines))
	for tag := range r.Tags.All() {
		for _, x := range tag.Reads {
			at[x.Line-2] = int64(x.At)
		}
	}
	return at
}

func unix(s string) int64 {
	at, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		panic(err)
	}
	return at.UnixMilli()
}

func wantInstants(t *testing.T, got []int64, want ...int64) {
	t.Helper()
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("line %d: %s; want %s", i+1, time.UnixMilli(got[i]).UTC(), time.UnixMilli(want[i]).UTC())
		}
	}
}

// Check values from the IANA time zone data, 2025b: what Berlin and New York show in the
// hour that comes twice. The order of the lines decides.
func TestInTheHourThatComesTwiceTheOrderDecides(t *testing.T) {
	berlin := planFor("Europe/Berlin", 2026, 10, 24, race.Log{})
	// 2026-10-25 02:30 in Berlin is 00:30Z (1792888200) or 01:30Z (1792891800).
	wantInstants(t, instantsOf(t, berlin, "2026-10-25 02:30:00"), 1792888200000)
	wantInstants(t, instantsOf(t, berlin, "2026-10-25 01:59:00", "2026-10-25 02:30:00", "2026-10-25 02:55:00", "2026-10-25 02:10:00", "2026-10-25 02:30:00", "2026-10-25 03:00:00"),
		unix("2026-10-24T23:59:00Z"), 1792888200000, unix("2026-10-25T00:55:00Z"), unix("2026-10-25T01:10:00Z"), 1792891800000, unix("2026-10-25T02:00:00Z"))
	// Lines out of order by seconds are not another hour.
	wantInstants(t, instantsOf(t, berlin, "2026-10-25 02:30:05", "2026-10-25 02:30:00", "2026-10-25 02:30:09"), 1792888205000, 1792888200000, 1792888209000)
	// After the second pass has begun, a straggler of the first is still one.
	wantInstants(t, instantsOf(t, berlin, "2026-10-25 02:59:00", "2026-10-25 02:00:10", "2026-10-25 02:59:50", "2026-10-25 02:01:00"),
		unix("2026-10-25T00:59:00Z"), unix("2026-10-25T01:00:10Z"), unix("2026-10-25T00:59:50Z"), unix("2026-10-25T01:01:00Z"))
	// A line of the time after the hour, then one out of order from within it: the second.
	wantInstants(t, instantsOf(t, berlin, "2026-10-25 03:00:01", "2026-10-25 02:59:59"), unix("2026-10-25T02:00:01Z"), unix("2026-10-25T01:59:59Z"))
	// 2026-11-01 01:30 in New York is 05:30Z (1793511000) or 06:30Z (1793514600).
	york := planFor("America/New_York", 2026, 10, 31, race.Log{})
	wantInstants(t, instantsOf(t, york, "2026-11-01 01:30:00", "2026-11-01 01:50:00", "2026-11-01 01:30:00.001"), 1793511000000, unix("2026-11-01T05:50:00Z"), 1793514600001)
}

// A night race of nine hours on the clock of the wall, told by times of day alone.
func TestTheNightThatSummerTimeEnds(t *testing.T) {
	for _, c := range []struct {
		zone       string
		y, d       int
		m          time.Month
		from, to   int64
		wallHours  int
		dateTheDay string
	}{
		// 22:00 to 06:00: 9:00:00 in autumn, 7:00:00 in spring (IANA time zone data, 2025b).
		{"Europe/Berlin", 2026, 24, 10, 1792872000, 1792904400, 9, ""},
		{"America/New_York", 2026, 31, 10, 1793498400, 1793530800, 9, ""},
		{"Europe/Berlin", 2026, 28, 3, 1774731600, 1774756800, 7, ""},
		{"America/New_York", 2026, 7, 3, 1772938800, 1772964000, 7, ""},
	} {
		p := planFor(c.zone, c.y, c.m, c.d, race.Log{})
		var lines []string
		var want []int64
		for at := c.from; at <= c.to; at += 600 {
			lines = append(lines, time.Unix(at, 0).In(p.Zone).Format("15:04:05"))
			want = append(want, at*1000)
		}
		if n := (c.to - c.from) / 3600; n != int64(c.wallHours) {
			t.Fatal("the table is wrong")
		}
		got := instantsOf(t, p, lines...)
		wantInstants(t, got, want...)
	}
}

// In the hour that summer time leaves out nothing happens: such a line is a bad one.
func TestATimeThatDoesNotExistIsABadLine(t *testing.T) {
	for zone, text := range map[string]string{"Europe/Berlin": "2026-03-29 02:30:00", "America/New_York": "2026-03-08 02:30:00"} {
		if _, why := one(t, planFor(zone, 2026, 3, 8, race.Log{}), text); !strings.Contains(why, whyGap) {
			t.Errorf("%s in %s: %q", text, zone, why)
		}
	}
}

func TestMidnightIsCrossedInOrder(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{})
	p.Waves = []race.Wave{{Gun: race.Instant(unix("2026-05-17T20:00:00+01:00"))}}
	wantInstants(t, instantsOf(t, p, "19:50:00", "23:59:59", "00:00:01", "23:59:58.5", "00:30:00", "19:00:00", "01:00:00"),
		unix("2026-05-17T18:50:00Z"), unix("2026-05-17T22:59:59Z"), unix("2026-05-17T23:00:01Z"), unix("2026-05-17T22:59:58.5Z"),
		unix("2026-05-17T23:30:00Z"), unix("2026-05-18T18:00:00Z"), unix("2026-05-19T00:00:00Z"))
	// Test chips in the morning, the race in the evening: no midnight between.
	wantInstants(t, instantsOf(t, p, "06:00:00", "19:30:00"), unix("2026-05-17T05:00:00Z"), unix("2026-05-17T18:30:00Z"))
	// A fall of eleven hours is lines out of order, one of thirteen a midnight.
	wantInstants(t, instantsOf(t, p, "20:00:00", "09:00:00"), unix("2026-05-17T19:00:00Z"), unix("2026-05-17T08:00:00Z"))
	wantInstants(t, instantsOf(t, p, "22:00:00", "09:00:00"), unix("2026-05-17T21:00:00Z"), unix("2026-05-18T08:00:00Z"))
	// The first finisher after midnight.
	wantInstants(t, instantsOf(t, p, "00:30:00", "00:10:00"), unix("2026-05-17T23:30:00Z"), unix("2026-05-17T23:10:00Z"))
	// The day of the first gun, where that isn't the race's date.
	p.Waves = []race.Wave{{Gun: race.NoInstant}, {Gun: race.Instant(unix("2026-05-19T09:00:00+01:00"))}}
	wantInstants(t, instantsOf(t, p, "08:59:00"), unix("2026-05-19T07:59:00Z"))
	// The clock in another zone: the race's morning is the evening before there.
	p = planFor("Pacific/Auckland", 2026, 5, 17, race.Log{Zone: time.UTC})
	p.Waves = []race.Wave{{Gun: race.Instant(unix("2026-05-17T13:00:00+12:00"))}}
	wantInstants(t, instantsOf(t, p, "23:00:00", "00:30:00"), unix("2026-05-16T23:00:00Z"), unix("2026-05-17T00:30:00Z"))
}

// A log of times of day over a midnight, downloaded again at its end, whole or in part: the
// second telling counts as repeated and moves no day.
func TestADownloadedLogIsNoMidnight(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{})
	var lines []string
	for i := range 300 {
		lines = append(lines, fmt.Sprintf("T%d,%s,%d,-50", i%7, time.Unix(int64(18*3600+i*120), 0).UTC().Format("15:04:05"), i%2))
	}
	one := strings.Join(lines, "\n") + "\n"
	read := func(text string) *race.Reads {
		l := New(p, 0)
		l.Append(l.File("a.csv"), []byte(text))
		l.Finish()
		r := l.Reads()
		check(t, r)
		return r
	}
	want := read(one)
	if want.Kept != 300 {
		t.Fatalf("%d reads", want.Kept)
	}
	first, last := want.Tags.At(0).Reads[0].At, race.Instant(0)
	for tag := range want.Tags.All() {
		last = max(last, tag.Reads[len(tag.Reads)-1].At)
	}
	if d := last - first; d != 299*120*1000 {
		t.Fatalf("the log spans %v ms", d)
	}
	for _, from := range []int{0, 100, 179, 180, 181, 250, 299} {
		again := one + strings.Join(lines[from:], "\n") + "\n"
		r := read(again + "T1,04:10:00,1,-50\n")
		if r.Kept != 301 || r.Repeated != 300-from {
			t.Errorf("again from line %d: %d reads, %d repeated", from, r.Kept, r.Repeated)
		}
		for i := range want.Tags.Len() {
			reads := r.Tags.At(i).Reads
			if reads[len(reads)-1].At == race.Instant(unix("2026-05-18T04:10:00+01:00")) {
				reads = reads[:len(reads)-1]
			}
			for j, x := range want.Tags.At(i).Reads {
				if reads[j] != x {
					t.Fatalf("again from line %d: %v became %v", from, x, reads[j])
				}
			}
		}
	}
}

// Files of one log: a second one that goes on after midnight, one that ran beside the
// first, and one that goes on after more than a day. The order in which they come is no
// matter.
func TestFilesOfTimesOfDayFindTheirDay(t *testing.T) {
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{})
	lisbon := func(s string) int64 { return unix(s + "+01:00") }
	for _, c := range []struct {
		name  string
		files map[string]string
		want  map[string]int64 // first instant by tag
	}{
		{"goes on after midnight", map[string]string{"1.csv": "A,21:00:00,23:59:00", "2.csv": "B,00:05:00,01:00:00"},
			map[string]int64{"A": lisbon("2026-05-17T21:00:00"), "B": lisbon("2026-05-18T00:05:00")}},
		{"ran beside", map[string]string{"1.csv": "A,09:00:00,22:00:00", "2.csv": "B,08:55:00,21:00:00"},
			map[string]int64{"A": lisbon("2026-05-17T09:00:00"), "B": lisbon("2026-05-17T08:55:00")}},
		{"goes on after a day and more", map[string]string{"1.csv": "A,09:00:00,20:30:00,08:00:00,10:00:00", "2.csv": "B,10:05:00,12:00:00"},
			map[string]int64{"A": lisbon("2026-05-17T09:00:00"), "B": lisbon("2026-05-18T10:05:00")}},
	} {
		for _, order := range [][]string{{"1.csv", "2.csv"}, {"2.csv", "1.csv"}} {
			l := New(p, 0)
			for _, name := range order {
				cells := strings.Split(c.files[name], ",")
				l.Append(l.File(name), []byte("tag,time\n"))
				for _, at := range cells[1:] {
					l.Append(l.File(name), []byte(cells[0]+","+at+"\n"))
				}
				check(t, l.Reads())
			}
			l.Finish()
			r := l.Reads()
			check(t, r)
			for tag := range r.Tags.All() {
				if got := int64(tag.Reads[0].At); got != c.want[tag.Tag] {
					t.Errorf("%s, order %v: %s begins %s; want %s", c.name, order, tag.Tag, time.UnixMilli(got).UTC(), time.UnixMilli(c.want[tag.Tag]).UTC())
				}
			}
		}
	}
}
