package plan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"

	"twinmat/reconcile/race"
)

func TestFaultsOfTheAthletesAreToldWithTheirPlace(t *testing.T) {
	const head = "bib,name,sex,birth,category,team,wave,status,start\n"
	for _, c := range []struct {
		name, text string
		wants      []expect
	}{
		{"an empty file", "§", []expect{{what: "the file is empty", want: "bib and wave"}}},
		{"only blank lines", "§\n\n,,,\n", []expect{{what: "the file is empty"}}},
		{"no column wave", "§bib,name\n1,Ann\n", []expect{{what: "there is no column wave", want: "bib and wave"}}},
		{"no header", "§§§1,§Ann,§A\n", []expect{{what: "there is no column bib"}, {what: "there is no column wave"}, {`column "1" is not used`, "", true}, {`column "Ann"`, "", true}, {`column "A"`, "", true}}},
		{"a column twice", "bib,wave,§BIB\n1,A,2\n", []expect{{what: `column "bib" stands twice, first as number 1`}}},
		{"a mistyped column", "bib,wave,§categroy\n1,A,W\n", []expect{{`column "categroy" is not used (did you mean "category"?)`, "one of bib, wave, name", true}}},
		{"other columns, one of them twice", "bib,§phone,wave,§phone,,\n1,5,A,6,7,8\n", []expect{{`column "phone" is not used`, "", true}, {`column "phone" is not used`, "", true}}},
		{"no athlete", "§bib,wave\n", []expect{{"no athlete is listed", "a row", true}}},
		{"an empty bib", head + "§,Ann,f,1990,W,,A,,\n", []expect{{what: "bib: it is empty"}}},
		{"a bib with a space", head + "§1 2,Ann,f,1990,W,,A,,\n", []expect{{what: `bib: "1 2" has the character ' '`}}},
		{"a bib with a plus", head + "§1+2,Ann,f,1990,W,,A,,\n", []expect{{what: `bib: "1+2" has the character '+'`}}},
		{"a bib twice", head + "7,Ann,f,,W,,A,,\n8,Bo,m,,M,,A,,\n§7,Cy,m,,M,,A,,\n", []expect{{what: "bib 7 stands in line 2 already", want: "each bib once"}}},
		{"no wave", head + "7,Ann,f,,W,,§,,\n", []expect{{what: "the wave is empty", want: "A"}}},
		{"an unknown wave", head + "7,Ann,f,,W,,§a,,\n", []expect{{what: `there is no wave "a"`, want: "race.toml: A"}}},
		{"a status", head + "7,Ann,f,,W,,A,§dqs,\n", []expect{{what: `the status is "dqs"`, want: "dns, dnf, dsq"}}},
		{"a start", head + "7,Ann,f,,W,,A,,§noon\n", []expect{{what: `start: "noon" is not a time`, want: "hh:mm:ss"}}},
		{"a shifted row", head + "7,Reed, Ann,f,1990,W,,A,,§x\n", []expect{{what: "10 cells", want: "9 cells as in the header; a cell with a comma in quotes"}}},
		{"a birth that never was", head + "7,Ann,f,§1961-02-29,W,,A,,\n", []expect{{`the birth is "1961-02-29"`, "1986", true}}},
		{"a birth", head + "7,Ann,f,§May 90,W,,A,,\n", []expect{{`the birth is "May 90"`, "1986", true}}},
		{"a sex that is a year", head + "7,Ann,§1990,,W,,A,,\n", []expect{{`the sex is "1990"`, "m, f or x", true}}},
		{"a name that clears the screen", head + "7,§Ann\x1b[2J,f,,W,,A,,\n", []expect{{`has the character '\x1b'`, "can be shown", true}}},
		{"a quote inside", head + "7,Ann §\"Speedy\" Reed,f,,W,,A,,\n8,Bo,m,,M,,§B,,\n", []expect{{what: "a quote inside a cell", want: "doubled"}, {what: "no wave"}}},
		{"text after a quote", head + "7,\"Ann\"§ Reed,f,,W,,A,,\n8,Bo,m,,M,,§B,,\n", []expect{{what: "text after the closing quote"}, {what: "no wave"}}},
		{"an open quote", head + "7,§\"Ann,f,,W,,A,,\n8,Bo,m,,M,,§B,,\n", []expect{{what: "a quote that is never closed"}, {what: "no wave"}}},
		{"several at once", head + "7,Ann,f,,W,,§B,§x,\n§,Bo,m,,M,,A,,\n§7,Cy,m,,M,,§,,§1\n",
			[]expect{{what: `no wave "B"`}, {what: `status is "x"`}, {what: "bib: it is empty"}, {what: "bib 7 stands in line 2"}, {what: "wave is empty"}, {what: "start"}}},
		{"a fault after a cell of two lines", head + "7,\"Ann\nReed\",f,,W,,A,,\n8,Bo,m,,M,,§B,,\n", []expect{{what: "no wave"}}},
		{"a fault after letters of two bytes", head + "7,Ångström,f,,W,,§B,,\n", []expect{{what: "no wave"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			plain, _ := marked(c.text)
			r, found := Parse([]byte(goodPlan), []byte(plain), nil)
			check(t, AthletesFile, c.text, found, c.wants)
			if (r == nil) == Sound(found) {
				t.Errorf("race %v with:\n%s", r, show(found))
			}
		})
	}
}

func TestFaultsOfTheChipsAreToldWithTheirPlace(t *testing.T) {
	const head = "tag,bib,from,to\n"
	for _, c := range []struct {
		name, text string
		wants      []expect
	}{
		{"an empty file", "§", []expect{{what: "the file is empty", want: "tag and bib"}}},
		{"no column bib", "§tag,§number\nA1,1\n", []expect{{what: "there is no column bib"}, {`column "number"`, "", true}}},
		{"no tag", head + "§,1,,\n", []expect{{what: "the tag is empty"}}},
		{"a tag of separators", head + "§-- --,1,,\n", []expect{{what: "the tag is empty"}}},
		{"a tag that a spreadsheet rounded", head + "§3.00833E+23,1,,\n", []expect{{what: "was rounded by a spreadsheet", want: "the whole tag"}}},
		{"a spare", head + "A1,§,,\n", []expect{{`chip "A1" has no bib`, "", true}}},
		{"a bib that isn't listed", head + "A1,§99,,\n", []expect{{`bib 99 of chip "A1" is not listed`, "athletes.csv", true}}},
		{"a chip on two bibs", head + "A1,1,,\nA2,2,,\n§a-1,2,,\n", []expect{{what: `chip "a-1" is on bib 2 and, in line 2, on bib 1 at the same time`, want: "from and to"}}},
		{"a chip on two bibs at times that meet in one", head + "A1,1,,10:30:00\n§A1,2,10:29:59.999,\n", []expect{{what: "at the same time"}}},
		{"a chip on two bibs, the later one first", head + "A1,1,10:30:00,\n§A1,2,,10:30:00.001\n", []expect{{what: "at the same time"}}},
		{"a chip twice for one bib", head + "A1,1,,\n§A1,1,,\n", []expect{{"stands in line 2 already", "once", true}}},
		{"to before from", head + "A1,1,11:00:00,§10:00:00\n", []expect{{what: "to is not after from"}}},
		{"a bib with a colon", head + "A1,§1:2,,\n", []expect{{what: `bib: "1:2" has the character ':'`}}},
		{"a tag that rings", head + "§A\a1,1,,\n", []expect{{what: "the tag is", want: "as the reader prints it"}}},
		{"a shifted row", head + "A1,1,,,§x\n", []expect{{what: "5 cells", want: "4 cells as in the header; a cell with a comma in quotes"}}},
		{"a shifted row between tabs", "tag\tbib\nA1\t1\t§x\n", []expect{{what: "3 cells", want: "a cell with a tab in quotes"}}},
		{"a from", head + "A1,1,§early,\n", []expect{{what: `from: "early" is not a time`}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			plain, _ := marked(c.text)
			r, found := Parse([]byte(goodPlan), []byte(goodAthletes), []byte(plain))
			check(t, ChipsFile, c.text, found, c.wants)
			if (r == nil) == Sound(found) {
				t.Errorf("race %v with:\n%s", r, show(found))
			}
		})
	}
}

func TestAnAthleteWithoutAChipIsAWarningButNotIfTheyDoNotStart(t *testing.T) {
	text := "bib,wave,status\n§1,A,\n2,A,dns\n3,A,\n"
	plain, _ := marked(text)
	_, found := Parse([]byte(goodPlan), []byte(plain), []byte("tag,bib\nA3,3\n"))
	check(t, AthletesFile, text, found, []expect{{"bib 1 has no chip", "chips.csv", true}})
}

func TestListsAreReadAsSpreadsheetsWriteThem(t *testing.T) {
	comma := "bib,name,sex,wave\n1,Zoë Åberg,f,A\n2,\"Reed, \"\"Bo\"\"\",m,A\n"
	tab := "bib\tname\tsex\twave\n1\tZoë Åberg\tf\tA\n2\t\"Reed, \"\"Bo\"\"\"\tm\tA\n"
	semicolon := "bib;name;sex;wave\n1;Zoë Åberg;f;A\n2;\"Reed, \"\"Bo\"\"\";m;A\n"
	want := []race.Athlete{
		{Bib: "1", Name: "Zoë Åberg", Sex: "f", Start: race.NoInstant},
		{Bib: "2", Name: `Reed, "Bo"`, Sex: "m", Start: race.NoInstant},
	}
	wide := func(s string, order binary.AppendByteOrder, mark bool) string {
		var b bytes.Buffer
		if mark {
			s = "\ufeff" + s
		}
		for _, u := range utf16.Encode([]rune(s)) {
			b.Write(order.AppendUint16(nil, u))
		}
		return b.String()
	}
	latin := strings.NewReplacer("ë", "\xeb", "Å", "\xc5").Replace(semicolon)
	for name, text := range map[string]string{
		"plain":                       comma,
		"with a byte order mark":      "\ufeff" + comma,
		"mark and a quoted header":    "\ufeff\"bib\"" + comma[3:],
		"semicolons":                  semicolon,
		"tabs":                        tab,
		"bars":                        strings.ReplaceAll(semicolon, ";", "|"),
		"a line that names it":        "sep=;\r\n" + semicolon,
		"CRLF":                        strings.ReplaceAll(comma, "\n", "\r\n"),
		"CR":                          strings.ReplaceAll(comma, "\n", "\r"),
		"no last line end":            strings.TrimSuffix(comma, "\n"),
		"blank lines":                 "\n" + strings.ReplaceAll(comma, "\n", "\n\n") + ",,,\n",
		"spaces about cells":          strings.ReplaceAll(comma, ",f,", " , f ,"),
		"header in capitals":          "BIB,Name,SEX,Wave" + comma[len("bib,name,sex,wave"):],
		"UTF-16, little end first":    wide(tab, binary.LittleEndian, true),
		"UTF-16, big end first":       wide(tab, binary.BigEndian, true),
		"UTF-16 without a mark":       wide(tab, binary.LittleEndian, false),
		"UTF-16 without one, big end": wide(tab, binary.BigEndian, false),
		"short rows":                  "bib,name,sex,wave,team\n" + comma[len("bib,name,sex,wave\n"):],
		"a code page":                 latin,
	} {
		t.Run(name, func(t *testing.T) {
			r, found := Parse([]byte(goodPlan), []byte(text), nil)
			if r == nil {
				t.Fatal(show(found))
			}
			if d := cmp.Diff(want, r.Athletes); d != "" {
				t.Error(d, show(found))
			}
		})
	}
	_, found := Parse([]byte(goodPlan), []byte(latin), nil)
	if len(found) != 1 || !found[0].Warning || found[0].Line != 2 || found[0].Column != 5 || !strings.Contains(found[0].What, "0xEB") {
		t.Errorf("a guessed code page must be told where it was guessed:\n%s", show(found))
	}
}

func TestRowsBecomeAthletesAndChips(t *testing.T) {
	athletes := "start,wave,bib,team,category,birth,sex,name,status\n10:05:00,A,0012,Otters,M40,1985-03-04,M,Bo Fen,DNF\n2026-05-18T07:00:00+02:00,A,X7,,,1990,,,\n"
	chips := "bib,tag,from,to\n0012,e2 80-1a,,10:30:00\nX7,E2801A,10:30:00,2026-05-17T12:00:00Z\nX7,0B,11:00:00,\n0012,0B,,11:00:00\n"
	r, found := Parse([]byte(goodPlan), []byte(athletes), []byte(chips))
	if r == nil {
		t.Fatal(show(found))
	}
	const ten = race.Instant(1779004800000) // 2026-05-17T08:00:00Z, ten o'clock in Berlin
	wantA := []race.Athlete{
		{Bib: "0012", Name: "Bo Fen", Sex: "M", Birth: "1985-03-04", Category: "M40", Team: "Otters", Status: "dnf", Start: ten + 300_000},
		{Bib: "X7", Birth: "1990", Start: ten + 21*3600_000},
	}
	wantC := []race.Chip{
		{Tag: "E2801A", Bib: "0012", From: race.NoInstant, To: ten + 1800_000},
		{Tag: "E2801A", Bib: "X7", From: ten + 1800_000, To: ten + 4*3600_000},
		{Tag: "0B", Bib: "X7", From: ten + 3600_000, To: race.NoInstant},
		{Tag: "0B", Bib: "0012", From: race.NoInstant, To: ten + 3600_000},
	}
	if d := cmp.Diff(wantA, r.Athletes); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(wantC, r.Chips); d != "" {
		t.Error(d)
	}
}

func TestZerosAreDroppedOnlyWhenNoTagBeginsWithOne(t *testing.T) {
	for chips, want := range map[string]bool{
		"tag,bib\n":                 false,
		"tag,bib\n12,1\n340,2\n":    true,
		"tag,bib\n12,1\n0340,2\n":   false,
		"tag,bib\n12,1\n-0340,2\n":  false,
		"tag,bib\n1200,1\n3400,2\n": true,
	} {
		r, found := Parse([]byte(goodPlan), []byte(goodAthletes), []byte(chips))
		if r == nil || r.ZerosDropped != want {
			t.Errorf("%q: %v, want %v\n%s", chips, r, want, show(found))
		}
	}
}

func BenchmarkFiftyThousandAthletes(b *testing.B) {
	var athletes, chips strings.Builder
	athletes.WriteString("bib,name,sex,birth,category,team,wave,status,start\n")
	chips.WriteString("tag,bib\n")
	for i := range 50_000 {
		fmt.Fprintf(&athletes, "%d,Ann Reed,f,1990,W,Otters,A,,\n", i+1)
		fmt.Fprintf(&chips, "3A0803F844%014d,%d\n", i+1, i+1)
	}
	b.ReportAllocs()
	for b.Loop() {
		if r, found := Parse([]byte(goodPlan), []byte(athletes.String()), []byte(chips.String())); r == nil {
			b.Fatal(show(found))
		}
	}
}
