package logs

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// slowReads is the plain twin of the parser: the standard library's CSV reader and clock,
// one line at a time, for logs with one header and times that aren't in doubt. It gives a
// row a read, and counts.
func slowReads(text string, delim rune, zone *time.Location) (rows []string, repeated, bad int) {
	lines := strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' })
	at := map[string]int{}
	seen := map[string]bool{}
	for _, line := range lines {
		if strings.Trim(line, " ") == "" {
			continue
		}
		r := csv.NewReader(strings.NewReader(line))
		r.Comma, r.FieldsPerRecord = delim, -1
		cells, err := r.Read()
		if err != nil {
			bad++
			continue
		}
		if len(at) == 0 {
			for i, name := range cells {
				at[name] = i
			}
			continue
		}
		row, ok := slowRow(cells, at, zone)
		switch {
		case !ok:
			bad++
		case seen[row]:
			repeated++
		default:
			seen[row] = true
			rows = append(rows, row)
		}
	}
	slices.Sort(rows)
	return rows, repeated, bad
}

func slowRow(cells []string, at map[string]int, zone *time.Location) (string, bool) {
	get := func(name string) string {
		if i, ok := at[name]; ok && i < len(cells) {
			return strings.TrimSpace(cells[i])
		}
		return ""
	}
	tag := race.CanonicalTag(get("tag"))
	when, ok := slowTime(get("time"), zone)
	if tag == "" || len(tag) > 64 || !ok {
		return "", false
	}
	rssi := race.NoRSSI
	if v, err := strconv.ParseFloat(strings.ReplaceAll(get("rssi"), ",", "."), 64); err == nil {
		rssi = int16(v*10 + 0.001)
		if v < 0 {
			rssi = int16(v*10 - 0.001)
		}
	}
	return fmt.Sprintf("%s %d %q %d", tag, when, get("antenna"), rssi), true
}

func slowTime(s string, zone *time.Location) (int64, bool) {
	for _, form := range []string{"2006-01-02T15:04:05Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04:05-0700"} {
		if at, err := time.Parse(form, s); err == nil {
			return at.UnixMilli(), true
		}
	}
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05"} {
		if at, err := time.ParseInLocation(form, s, zone); err == nil {
			return at.UnixMilli(), true
		}
	}
	whole, frac, _ := strings.Cut(strings.ReplaceAll(s, ",", "."), ".")
	n, err := strconv.ParseInt(whole, 10, 64)
	if err != nil {
		return 0, false
	}
	switch len(whole) {
	case 10:
		ms, _ := strconv.ParseInt((frac + "000")[:3], 10, 64)
		return n*1000 + ms, true
	case 13:
		return n, true
	case 16:
		return n / 1000, true
	}
	return 0, false
}

// randomLog is a log of a random dialect, with faults.
func randomLog(rng *rand.Rand, zone *time.Location) (text string, delim rune) {
	delim = []rune(delimiters)[rng.IntN(4)]
	names := []string{"tag", "time", "antenna", "rssi"}
	rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	names = names[:len(names)-rng.IntN(2)*len(names)/4]
	for _, must := range []string{"tag", "time"} {
		if !slices.Contains(names, must) {
			names = append(names, must)
		}
	}
	if rng.IntN(2) == 0 {
		names = slices.Insert(names, rng.IntN(len(names)+1), "battery")
	}
	end := []string{"\n", "\r\n", "\r"}[rng.IntN(3)]
	form, quoted, comma := rng.IntN(7), rng.IntN(5) == 0, delim != ',' && rng.IntN(2) == 0
	var b strings.Builder
	b.WriteString(strings.Join(names, string(delim)) + end)
	at := time.Date(2026, 6, 1+rng.IntN(20), rng.IntN(24), 0, 0, 0, time.UTC)
	var lines []string
	for range 150 {
		at = at.Add(time.Duration(rng.IntN(3_000_000)-200_000) * time.Microsecond)
		cells := make([]string, len(names))
		for i, name := range names {
			cells[i] = randomCell(rng, name, at.In(zone), form, comma)
			if quoted || rng.IntN(40) == 0 {
				cells[i] = `"` + cells[i] + `"`
			}
		}
		line := strings.Join(cells, string(delim))
		switch rng.IntN(30) {
		case 0:
			line = []string{"reader restarted", "", "   ", strings.Repeat(string(delim), 3), "12345"}[rng.IntN(5)]
		case 1, 2:
			if len(lines) > 0 {
				line = lines[rng.IntN(len(lines))]
			}
		}
		lines = append(lines, line)
		b.WriteString(line + end)
	}
	return b.String(), delim
}

func randomCell(rng *rand.Rand, name string, at time.Time, form int, comma bool) string {
	switch name {
	case "tag":
		tag := fmt.Sprintf("3008%04X%04d", rng.IntN(3)*0xABC, rng.IntN(8))
		switch rng.IntN(25) {
		case 0:
			return strings.ToLower(tag)
		case 1:
			return tag[:4] + "-" + tag[4:8] + " " + tag[8:]
		case 2:
			return ""
		}
		return tag
	case "time":
		s := [...]string{at.Format("2006-01-02T15:04:05.000Z07:00"), at.Format("2006-01-02 15:04:05.000"), at.Format("2006-01-02T15:04:05.999999"),
			at.UTC().Format("2006-01-02T15:04:05Z"), fmt.Sprintf("%d.%06d", at.Unix(), at.Nanosecond()/1000), strconv.FormatInt(at.UnixMilli(), 10),
			strconv.FormatInt(at.UnixMicro(), 10)}[form]
		if rng.IntN(50) == 0 {
			return []string{"25:61:00", "", "soon", "2026-13-01 00:00:00"}[rng.IntN(4)]
		}
		if comma {
			s = strings.Replace(s, ".", ",", 1)
		}
		return s
	case "antenna":
		return []string{"1", "2", "3", "12", "left", ""}[rng.IntN(6)]
	case "rssi":
		return []string{"-54", "-61", "-70.5", "-8", "", "-55.5"}[rng.IntN(6)]
	}
	return "4.1"
}

// The parser and its plain twin agree on random logs.
func TestTheParserAgreesWithItsPlainTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(2026, 17))
	zones := []string{"Europe/Lisbon", "America/New_York", "Asia/Kathmandu"}
	total := 0
	for round := range 600 {
		p := planFor(zones[round%3], 2026, 6, 10, race.Log{Path: "a.csv"})
		text, delim := randomLog(rng, p.Zone)
		rows, repeated, bad := slowReads(text, delim, p.Zone)
		l := New(p, 0)
		feed(l, l.File("a.csv"), []byte(text), 1+rng.IntN(3000))
		l.Finish()
		r := l.Reads()
		check(t, r)
		var got []string
		for tag := range r.Tags.All() {
			for _, x := range tag.Reads {
				got = append(got, fmt.Sprintf("%s %d %q %d", tag.Tag, x.At, r.Antennas[x.Antenna], x.RSSI))
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, rows) || r.Repeated != repeated || r.BadLines != bad {
			t.Fatalf("round %d: %d reads, %d repeated, %d bad; want %d, %d, %d\n%s\n%.600q", round, r.Kept, r.Repeated, r.BadLines,
				len(rows), repeated, bad, firstDifference(strings.Join(got, "\n"), strings.Join(rows, "\n")), text)
		}
		total += len(got)
	}
	if total < 50_000 {
		t.Errorf("only %d reads were compared", total)
	}
}

// The quick way and the general way agree on logs of the forms that the quick way takes,
// whatever bytes are changed in them.
func TestTheQuickWayAgreesWithTheGeneral(t *testing.T) {
	rng := rand.New(rand.NewPCG(77, 1))
	const signs = "0123456789,,,;;|\t\"\" -:.TZA\x00\xE9\r\n"
	quick := 0
	for round := range 1500 {
		d := delimiters[rng.IntN(4)]
		form := rng.IntN(3)
		var b []byte
		b = fmt.Appendf(b, "tag%ctime%cextra%cantenna%crssi\n", d, d, d, d)
		if rng.IntN(2) == 0 {
			b = fmt.Appendf(nil, "rssi%ctime%ctag%cantenna\n", d, d, d)
		}
		at := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
		for range 60 {
			at = at.Add(time.Duration(rng.IntN(999)) * time.Millisecond)
			when := [...]string{at.Format("2006-01-02T15:04:05.000Z"), at.Format("2006-01-02 15:04:05,000"), strconv.FormatInt(at.UnixMicro(), 10)}[form]
			tag, ant, rssi := fmt.Sprintf("30AB%08d", rng.IntN(5)), 1+rng.IntN(4), 40+rng.IntN(40)
			var line []byte
			if b[0] == 't' {
				line = fmt.Appendf(nil, "%s%c%s%c%d%c%d%c-%d", tag, d, when, d, rng.IntN(1000), d, ant, d, rssi)
			} else {
				line = fmt.Appendf(nil, "-%d%c%s%c%s%c%d", rssi, d, when, d, tag, d, ant)
			}
			if rng.IntN(3) == 0 {
				for range 1 + rng.IntN(2) {
					line[rng.IntN(len(line))] = signs[rng.IntN(len(signs))]
				}
			}
			b = append(append(b, line...), '\n')
		}
		p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "a.csv"})
		read := func(general bool) *race.Reads {
			l := New(p, 0)
			l.tags.marks = general
			l.Append(l.File("a.csv"), b)
			if lay := l.files[0].lay; !general && lay != nil && slices.ContainsFunc(lay.shapes, func(s shape) bool { return s.ok }) {
				quick++
			}
			l.Finish()
			return l.Reads()
		}
		a, c := read(false), read(true)
		check(t, a)
		if !alike(a, c) {
			t.Fatalf("round %d: %s\n%q", round, firstDifference(told(a), told(c)), b)
		}
	}
	if quick < 1000 {
		t.Errorf("only %d logs had lines for the quick way", quick)
	}
}
