package logs

import (
	"fmt"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// A newline that is lost, after a whole line or a cut one, takes no read with it unsaid. What only has
// more cells than its header stays a line.
func TestTwoLinesInOneAreABadLine(t *testing.T) {
	const first, second = "A0001,2026-05-17T10:41:07.320+01:00,2,-54", "A0002,2026-05-17T10:41:09.500+01:00,1,-60"
	for text, bad := range map[string]int{
		first + second:                   1,
		first[:len(first)-1] + second:    1,
		first[:len(first)-3] + second:    1,
		first[:len(first)-5] + second:    1,
		second + "," + first[6:]:         0, // a second moment, no second tag
		second + ",," + first:            1,
		first + ",2026-05-17T10:41:08.0": 0,
	} {
		l := New(planFor("Europe/Lisbon", 2026, 5, 17, race.Log{}), 0)
		l.Append(l.File("a.csv"), []byte("tag,time,antenna,rssi\nB1,2026-05-17T10:40:00.000+01:00,1,-50\n"+text+"\nB2,2026-05-17T10:50:00.000+01:00,1,-50\n"))
		l.Finish()
		if r := l.Reads(); r.BadLines != bad || r.Kept != 3-bad {
			t.Errorf("%s: %d read, %d bad, want %d: %v", text, r.Kept, r.BadLines, bad, r.Bad)
		}
	}
}

// readOne gives the first read of a text as "tag time antenna rssi", with the counts.
func readOne(t *testing.T, c race.Log, text string) string {
	t.Helper()
	l := New(planFor("Europe/Lisbon", 2026, 5, 17, c), 0)
	l.Append(l.File("a.csv"), []byte(text))
	l.Finish()
	r := l.Reads()
	check(t, r)
	if r.Kept == 0 {
		return fmt.Sprintf("none; bad %d: %v", r.BadLines, r.Bad)
	}
	x := r.Tags.At(0).Reads[0]
	return fmt.Sprintf("%s %s %s %d; kept %d bad %d", r.Tags.At(0).Tag, x.At.Format(l.plan.Zone), r.Antennas[x.Antenna], x.RSSI, r.Kept, r.BadLines)
}

func TestColumnsAreFoundByHeaderOrContent(t *testing.T) {
	const at = "2026-05-17T10:41:07.320+01:00"
	const want = "300833B2DDD9014000000214 " + at + " 2 -540; kept 1 bad 0"
	for name, c := range map[string]struct {
		log  race.Log
		text string
		want string
	}{
		"the plain form":                           {text: "tag,time,antenna,rssi\n300833B2DDD9014000000214," + at + ",2,-54\n"},
		"without its header":                       {text: "300833B2DDD9014000000214," + at + ",2,-54\n"},
		"other order, no header":                   {text: "2|-54|" + at + "|300833B2DDD9014000000214\n"},
		"tabs, no header":                          {text: "-54\t300833b2ddd9014000000214\t2\t2026-05-17 10:41:07.320\n"},
		"decimal commas, no header":                {text: "300833B2DDD9014000000214;2026-05-17 10:41:07,320;2;-54,0\n"},
		"microseconds, no header":                  {text: "300833B2DDD9014000000214;1779010867320000;2;-54\n"},
		"LLRP names":                               {text: "EPC,FirstSeenTimestampUTC (us),LastSeenTimestampUTC (us),PeakRSSI,AntennaID,TagSeenCount\n300833b2ddd9014000000214,1779010867320000,1779010869000000,-54,2,8\n"},
		"LLRP names with underscores":              {text: "antenna_id;peak_rssi_dbm;last_seen_timestamp_utc;first_seen_timestamp_utc;epc\n2;-54;1779010869000000;1779010867320000;300833b2ddd9014000000214\n"},
		"other words":                              {text: "Reader;Chip;Timestamp;Port;Signal strength\nR1;3008-33B2-DDD9-0140-0000-0214;" + at + ";2;-54\n"},
		"German words":                             {text: "Transponder\tUhrzeit\tAntenne\tRSSI\n300833B2DDD9014000000214\t10:41:07,32\t2\t-54\n"},
		"decimal commas between commas":            {text: "tag,time,antenna,rssi\n300833B2DDD9014000000214,2026-05-17 10:41:07,320,2,-54\n"},
		"decimal commas between commas, no header": {text: "300833B2DDD9014000000214,2026-05-17 10:41:07,320,2,-54\n"},
		"seconds and an extra column":              {text: "tag,time,antenna,rssi\n300833B2DDD9014000000214,2026-05-17 10:41:07,2,-54,x\n", want: "300833B2DDD9014000000214 2026-05-17T10:41:07.000+01:00 2 -540; kept 1 bad 0"},
		"a quoted header":                          {text: "\"tag\",\"time\",\"antenna\",\"rssi\"\r\n\"300833B2DDD9014000000214\",\"" + at + "\",\"2\",\"-54\"\r\n"},
		"unknown words":                            {text: "Quux;Frob;Baz;Zot\n300833B2DDD9014000000214;" + at + ";2;-54\n", want: "300833B2DDD9014000000214 " + at + "  -540; kept 1 bad 0"},
		"rubbish before the header":                {text: "reader 17 starts\n\n;;;\ntag;time;antenna;rssi\n300833B2DDD9014000000214;" + at + ";2;-54\n", want: "300833B2DDD9014000000214 " + at + " 2 -540; kept 1 bad 2"},
		"columns by name":                          {log: race.Log{Columns: map[string]string{"tag": "who", "time": "moment", "antenna": "where", "rssi": "loud"}}, text: "x,loud,where,moment,who\n0,-54,2," + at + ",300833B2DDD9014000000214\n"},
		"columns by number":                        {log: race.Log{Columns: map[string]string{"tag": "5", "time": "4", "antenna": "3", "rssi": "2"}}, text: "0,-54,2," + at + ",300833B2DDD9014000000214\n"},
		"numbers and a header":                     {log: race.Log{Columns: map[string]string{"tag": "2", "time": "1"}}, text: "when it was,chip,antenna,rssi\n" + at + ",300833B2DDD9014000000214,2,-54\n"},
		"a time column of two":                     {log: race.Log{Columns: map[string]string{"time": "second"}}, text: "tag,time,second,antenna,rssi\n300833B2DDD9014000000214,2026-05-17 09:00:00," + at + ",2,-54\n"},
		"the delimiter named":                      {log: race.Log{Delimiter: ";"}, text: "tag;time;antenna;rssi\n300833B2DDD9014000000214;" + at + ";2;-54\n"},
		"columns that never come":                  {log: race.Log{Columns: map[string]string{"tag": "who"}}, text: "tag,time,antenna,rssi\nA1," + at + ",2,-54\n", want: "none; bad 2"},
		"bib and time":                             {log: race.Log{System: race.Hand}, text: "bib,time\n0214,10:41:07.32\n", want: "0214 " + at + "  -32768; kept 1 bad 0"},
		"bib and time, no header":                  {log: race.Log{System: race.Hand}, text: "10:41:07.32;R-14\n", want: "R-14 " + at + "  -32768; kept 1 bad 0"},
		"bib and tag, by hand":                     {log: race.Log{System: race.Hand}, text: "tag,bib,time\nA1,214," + at + "\n", want: "214 " + at + "  -32768; kept 1 bad 0"},
		"bib and tag, by mats":                     {text: "bib,tag,time\n214,A1," + at + "\n", want: "A1 " + at + "  -32768; kept 1 bad 0"},
	} {
		if c.want == "" {
			c.want = want
		}
		if got := readOne(t, c.log, c.text); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %s; want %s", name, got, c.want)
		}
	}
}

// Without a header one line may mislead; the lines that follow put it right, and what the
// first was taken for is taken back.
func TestMoreLinesPutAFirstGuessRight(t *testing.T) {
	l := newLog(race.Main)
	f := l.File("a.csv")
	l.Append(f, []byte("mat17,7,10:00:00\n"))
	if r := l.Reads(); r.Tags.Len() != 1 || r.Tags.At(0).Tag != "MAT17" {
		t.Fatalf("the first guess: %v", r.Tags)
	}
	for i := range 20 {
		l.Append(f, fmt.Appendf(nil, "mat17,%d,10:00:%02d\n", 2000+i, i+1))
		check(t, l.Reads())
	}
	r := l.Reads()
	if r.Kept != 21 || r.Tags.Len() != 21 {
		t.Errorf("%d reads of %d tags", r.Kept, r.Tags.Len())
	}
}

// A device that was restarted writes another header, and other columns after it.
func TestAHeaderMayComeAgainWithOtherColumns(t *testing.T) {
	text := "tag,time,antenna,rssi\nA1,2026-05-17 10:00:00,1,-50\n\ntag,time,antenna,rssi\nA1,2026-05-17 10:00:01,1,-50\n" +
		"\xEF\xBB\xBFantenna;rssi;time;tag\n3;-61;1779008402000;A2\n3;-61;1779008403000;A2\n"
	l := newLog(race.Main)
	l.Append(l.File("a.csv"), []byte(text))
	l.Finish()
	r := l.Reads()
	check(t, r)
	if r.Kept != 4 || r.BadLines != 0 || r.Lines != 4 || r.Files[0].Lines != 8 {
		t.Fatalf("%+v", r)
	}
	x := r.Tags.At(1).Reads[0]
	if r.Tags.At(1).Tag != "A2" || r.Antennas[x.Antenna] != "3" || x.RSSI != -610 || x.At != race.Instant(unix("2026-05-17T10:00:02+01:00")) || x.Line != 7 {
		t.Errorf("%v of %s", x, r.Tags.At(1).Tag)
	}
}

func TestTagsCompareWithoutCaseSpacesAndSeparators(t *testing.T) {
	l := newLog(race.Main)
	var text strings.Builder
	text.WriteString("tag,time,antenna,rssi\n")
	spellings := []string{"00AB12", "00ab12", "00-AB-12", "00:ab:12", " 00 AB 12 ", "\"00.AB.12\"", "00_ab/12", "'00AB12'"}
	for i, s := range spellings {
		fmt.Fprintf(&text, "%s,2026-05-17 10:00:%02d,1,-50\n", s, i)
	}
	text.WriteString("AB12,2026-05-17 10:00:00,1,-50\n" + strings.Repeat("A", 65) + ",2026-05-17 10:00:00,1,-50\n" +
		strings.Repeat("B", 64) + ",2026-05-17 10:00:00,1,-50\n--,2026-05-17 10:00:00,1,-50\nA\x1bB,2026-05-17 10:00:00,1,-50\n")
	l.Append(l.File("a.csv"), []byte(text.String()))
	l.Finish()
	r := l.Reads()
	check(t, r)
	if r.Tags.Len() != 3 || r.Tags.At(0).Tag != "00AB12" || len(r.Tags.At(0).Reads) != len(spellings) || r.BadLines != 3 {
		t.Errorf("%d tags, %d bad lines: %v", r.Tags.Len(), r.BadLines, r.Bad)
	}
	for _, s := range spellings {
		if got := race.CanonicalTag(strings.Trim(s, `"`)); got != "00AB12" {
			t.Errorf("%q is %s to the rest of the program", s, got)
		}
	}
}

// Bad lines say where they are, what was seen and what is wrong.
func TestBadLinesSayWhy(t *testing.T) {
	l := newLog(race.Main)
	l.Append(l.File("logs/a.csv"), []byte("tag,time,antenna,rssi\nA1,not a time,1,-60\n,2026-05-17 10:00:00,1,-60\n3A08\n"+strings.Repeat("x", 70000)+"\n\x00\x00\x00\n"))
	l.Finish()
	r := l.Reads()
	check(t, r)
	want := []race.BadLine{
		{Line: 2, Column: 4, Why: `time "not a time" is none of the known forms of time`, Text: "A1,not a time,1,-60"},
		{Line: 3, Column: 1, Why: "tag is missing", Text: ",2026-05-17 10:00:00,1,-60"},
		{Line: 4, Why: "time is missing", Text: "3A08"},
		{Line: 5, Why: "is longer than 65536 bytes", Text: strings.Repeat("x", 200)},
		{Line: 6, Why: "time is missing", Text: "\x00\x00\x00"},
	}
	if len(r.Bad) != len(want) {
		t.Fatalf("%v", r.Bad)
	}
	for i := range want {
		if r.Bad[i] != want[i] {
			t.Errorf("%+v; want %+v", r.Bad[i], want[i])
		}
	}
}

// Half a line in the middle of a log: what is missing may be left out, but a time that may
// be half is none.
func TestHalfALineIsReadOnlyIfItsTimeIsWhole(t *testing.T) {
	l := newLog(race.Main)
	feedText(l, "a.csv", "tag,time,antenna,rssi\nA1,2026-05-17 10:00:00.123,1,-50\nA1,2026-05-17 10:00:01.1\nA1,2026-05-17 10:00:02.123\nA1,2026-05-17 10:00:03.5,1\n")
	r := l.Reads()
	check(t, r)
	if r.Kept != 3 || r.BadLines != 1 || r.Bad[0].Line != 3 || !strings.Contains(r.Bad[0].Why, "cut") {
		t.Errorf("%d kept, bad: %v", r.Kept, r.Bad)
	}
}

// A quoted tag may hold a delimiter. The same bytes without quotes are two cells.
func TestAQuotedTagIsNotTwoCells(t *testing.T) {
	l := newLog(race.Main)
	feedText(l, "a.csv", "tag,time,antenna,rssi\n\"A,1234567\",2026-05-17T10:00:00.000Z,1,-50\n"+
		"ABCDEFGHI,2026-05-17T10:00:01.000Z,1,-50\nA,1234567,2026-05-17T10:00:02.000Z,1,-50\n")
	r := l.Reads()
	check(t, r)
	if r.Kept != 2 || r.BadLines != 1 || r.Tags.At(0).Tag != "A,1234567" {
		t.Errorf("%d kept, tags %v, bad: %v", r.Kept, r.Tags, r.Bad)
	}
}
