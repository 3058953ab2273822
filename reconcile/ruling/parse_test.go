package ruling

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"twinmat/reconcile/race"
)

// Moments against the standard library's own reading of the full form.
func TestMoments(t *testing.T) {
	p := plan(t)
	for s, want := range map[string]string{
		"10:41:07":                      "2026-05-17T10:41:07+01:00",
		"9:05:00":                       "2026-05-17T09:05:00+01:00",
		"10:41:07.3209":                 "2026-05-17T10:41:07.320+01:00", // cut, not rounded
		"10:41:07,32":                   "2026-05-17T10:41:07.320+01:00",
		" 10:41:07 ":                    "2026-05-17T10:41:07+01:00",
		"2026-05-18T00:10:00":           "2026-05-18T00:10:00+01:00",
		"2026-05-18 00:10:00.5":         "2026-05-18T00:10:00.5+01:00",
		"2026-05-17T10:41:07.320Z":      "2026-05-17T11:41:07.320+01:00",
		"2026-05-17T10:41:07.320-05:00": "2026-05-17T16:41:07.320+01:00",
		"2026-10-25T01:30:00":           "2026-10-25T01:30:00+01:00", // shown twice: the earlier
		"2026-10-25T00:59:59.999":       "2026-10-25T00:59:59.999+01:00",
		"2026-10-25T02:00:00":           "2026-10-25T02:00:00Z",
		"2026-03-29T00:59:59":           "2026-03-29T00:59:59Z",
		"2026-03-29T02:00:00":           "2026-03-29T02:00:00+01:00",
	} {
		ref, err := time.Parse(time.RFC3339Nano, want)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := Moment(p, s); err != nil || got != race.Instant(ref.UnixMilli()) {
			t.Errorf("%q is %s, %v; want %s", s, got.Format(p.Zone), err, want)
		}
	}
	for _, s := range []string{"", "noon", "24:00:00", "10:60:00", "10:41:60", "10", "10:41", "2026-02-30T10:00:00", "2026-05-17", "10:41:07.", "10:41:07+01:00", "2026-03-29T01:30:00",
		"0000-01-01T00:00:00Z", "1970-01-01T00:00:00", "9999-01-01T00:00:00Z"} {
		if got, err := Moment(p, s); err == nil {
			t.Errorf("%q is read as %s", s, got.Format(p.Zone))
		}
	}
}

func TestLengths(t *testing.T) {
	for s, want := range map[string]race.Millis{
		"+2m": 120000, "-12.5s": -12500, "1m30s": 90000, "1h": 3600000, "3h30m": 12600000, "0.2s": 200, "250ms": 250, "3.217": 3217, "+3.217": 3217, "-12.500": -12500, "120": 120000,
		"1.0009s": 1000, "-1.0009s": -1000, "0": 0, "1.5h": 5400000, "10000h": 36000000000, " +1s ": 1000, "0.29s": 290, "8.7s": 8700,
	} {
		if got, err := Length(s); err != nil || got != want {
			t.Errorf("%q is %d, %v; want %d", s, got, err, want)
		}
	}
	for _, s := range []string{"", "+", "-", "s", "1x", "1s1m", "1s1s", "1.5m2s", "1..5s", ".5s", "5.s", "+-1s", "1e3s", "NaN", "inf", "0x1s", "1 s", "10001h", "99999999999999999999s", "1m30", "1_0s"} {
		if got, err := Length(s); err == nil {
			t.Errorf("%q is read as %d", s, got)
		}
	}
}

// Whatever length a ruling holds reads back as it was.
func TestLengthsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := race.Millis(rapid.Int64Range(-maxLength, maxLength).Draw(t, "d"))
		if got, err := Length(signed(d)); err != nil || got != d {
			t.Fatalf("%s reads back as %d, %v", signed(d), got, err)
		}
	})
}

func TestParse(t *testing.T) {
	p := plan(t)
	for line, want := range map[string]race.Ruling{
		"set-status --bib 327 --status dnf":                                               {Rule: race.SetStatus, Bib: "327", Status: "dnf"},
		"  set-status  --status=dnf	--bib=327 --why 'taken off the course' ":              {Rule: race.SetStatus, Bib: "327", Status: "dnf", Why: "taken off the course"},
		`accept --suspect 'clash:1:finish' --why 'main'\''s antenna is at the line'`:      {Rule: race.Accept, Suspect: "clash:1:finish", Why: "main's antenna is at the line"},
		`add-athlete --bib 267 --name "Niels \"N\" Mead" --wave B`:                        {Rule: race.AddAthlete, Bib: "267", Name: `Niels "N" Mead`, Wave: "B"},
		`add-athlete --bib 267 --name Niels\ Mead --wave B --team --`:                     {Rule: race.AddAthlete, Bib: "267", Name: "Niels Mead", Wave: "B", Team: "--"},
		"ignore-chip --tag AA --tag BB":                                                   {Rule: race.IgnoreChip, Tags: []string{"AA", "BB"}},
		"adjust-time --bib 1 --by -12.5s":                                                 {Rule: race.AdjustTime, Bib: "1", Shift: "-12.500"},
		"adjust-time --bib 1 --by +2m":                                                    {Rule: race.AdjustTime, Bib: "1", Shift: "+120.000"},
		"set-time --bib 1 --split finish --at 12:58:33.956 --plus-minus 0.5":              {Rule: race.SetTime, Bib: "1", Split: "finish", Time: "2026-05-17T12:58:33.956+01:00", PlusMinus: "0.500"},
		"set-time --bib 1 --split finish --at 2026-05-17T11:58:33Z":                       {Rule: race.SetTime, Bib: "1", Split: "finish", Time: "2026-05-17T12:58:33.000+01:00"},
		"set-clock --line finish --system backup --offset +3.217 --from 10:00:00":         {Rule: race.SetClock, Line: "finish", System: "backup", Offset: "+3.217", From: "2026-05-17T10:00:00.000+01:00"},
		"undo --seq 7 --why 'wrong bib'":                                                  {Rule: race.Undo, UndoneSeq: 7, Why: "wrong bib"},
		"undo --seq 7 --why it's the wrong bib ":                                          {Rule: race.Undo, UndoneSeq: 7, Why: "it's the wrong bib"},
		"add-athlete --bib 9 --wave A --name 'So --why not'":                              {Rule: race.AddAthlete, Bib: "9", Wave: "A", Name: "So --why not"},
		"void-reads --line start --from 07:00:00 --to 08:00:00 --why --bib --system main": {Rule: "", Why: ""}, // --bib is no flag of void-reads, and so a reason
	} {
		got, err := ParseLine(line, p)
		if want.Rule == "" {
			want = race.Ruling{Rule: race.VoidReads, Line: "start", System: "main", From: "2026-05-17T07:00:00.000+01:00", To: "2026-05-17T08:00:00.000+01:00", Why: "--bib"}
		}
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s\n got %+v, %v\nwant %+v", line, got, err, want)
		}
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	p := plan(t)
	for line, says := range map[string]string{
		"":                                     "no ruling",
		"neutralise --bib 1":                   "want one of assign-chip, ignore-chip",
		"set-status --bib 1":                   "lacks --status dns|dnf|dsq|none",
		"set-status --bib --status dnf":        "--bib lacks its value",
		"set-status --bib 1 --status":          "--status lacks its value",
		"set-status --bib 1 --bib 2":           "--bib stands twice",
		"set-status --bib '' --status dnf":     "--bib is empty",
		"set-status --bib 1 --line finish":     "there is no --line; it takes --bib, --status, --why",
		"set-status 1 dnf":                     `"1" is no flag`,
		"set-status --bib 1 --status 'dnf":     "never closed",
		"set-gun --wave A --at noon":           `--at: "noon" is no moment`,
		"adjust-time --bib 1 --by much":        `--by: "much" is no length`,
		"undo --seq one":                       "no whole number",
		"undo --seq 0":                         "no whole number",
		"undo --seq -1":                        "no whole number",
		"undo --seq 1 --why a --why b":         "--why stands twice",
		"set-status --bib 1 --status dnf --by": "--by",
	} {
		if r, err := ParseLine(line, p); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %+v, %v; want one that says %s", line, r, err, says)
		}
	}
}

// drawRuling makes any ruling that Parse could have made.
func drawRuling(t *rapid.T, p *race.Plan) race.Ruling {
	k := kinds[rapid.IntRange(0, len(kinds)-1).Draw(t, "kind")]
	text := rapid.Custom(func(t *rapid.T) string {
		return strings.TrimSpace(strings.ToValidUTF8(rapid.StringN(1, 12, 40).Draw(t, "text"), "?")) + "x"
	})
	r := race.Ruling{Rule: k.name, Why: rapid.SampledFrom([]string{"", "why", "it's \"so\" \\ 1=2"}).Draw(t, "why")}
	for _, f := range k.flags {
		if !f.must && rapid.Bool().Draw(t, "left out") {
			continue
		}
		switch {
		case f.second != nil:
			*f.second(&r) = rapid.SliceOfN(text, 1, 3).Draw(t, "tags")
		case f.number != nil:
			*f.number(&r) = rapid.IntRange(1, 1000).Draw(t, "n")
		case f.form == moment:
			*f.field(&r) = p.Date.Add(time.Duration(rapid.Int64Range(0, 48*3600_000).Draw(t, "ms")) * time.Millisecond).Format("2006-01-02T15:04:05.000Z07:00")
		case f.form == length:
			*f.field(&r) = f.length(race.Millis(rapid.Int64Range(0, maxLength).Draw(t, "d")))
		default:
			*f.field(&r) = text.Draw(t, f.name)
		}
	}
	return r
}

// A ruling written as flags, or on one line, reads back as it was, and can be said.
func TestArgsAreTheInverseOfParse(t *testing.T) {
	p := plan(t)
	rapid.Check(t, func(t *rapid.T) {
		want := drawRuling(t, p)
		args := Args(&want)
		for i, a := range args { // a value that looks like a flag of its kind can't be told from one
			if i%2 == 1 && kindOf(want.Rule).isFlag(a) {
				t.Skip()
			}
		}
		if got, err := Parse(want.Rule, args, p); err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q\n got %+v, %v\nwant %+v", args, got, err, want)
		}
		if got, err := ParseLine(Line(&want), p); err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%s\n got %+v, %v\nwant %+v", Line(&want), got, err, want)
		}
		if w := Words(&want); w == want.Rule || w == "" || strings.Contains(w, "%!") && !strings.Contains(strings.Join(args, ""), "%") {
			t.Fatalf("said %q", w)
		}
	})
}

func TestWords(t *testing.T) {
	p := plan(t)
	for line, want := range map[string]string{
		"assign-chip --tag 3A08 --bib 214 --from 10:00:00":                     "chip 3A08 is bib 214's from 10:00:00",
		"ignore-chip --tag AA":                                                 "chip AA is nobody's",
		"ignore-chip --tag AA --tag BB":                                        "chips AA, BB are nobody's",
		"void-reads --line finish --from 07:00:00 --to 08:00:00":               "no reads at finish from 07:00:00 to 08:00:00",
		"void-reads --line finish --system main --from 07:00:00 --to 08:00:00": "no reads of main at finish from 07:00:00 to 08:00:00",
		"adjust-time --bib 1 --by +2m":                                         "bib 1's time is made 0:02:00.000 longer",
		"adjust-time --bib 1 --by -12.5s":                                      "bib 1's time is made 0:00:12.500 shorter",
		"set-time --bib 1 --split finish --at 12:58:33.956 --plus-minus 0.5":   "bib 1 was at finish at 12:58:33.956 ± 0.500 s",
		"set-time --bib 1 --split finish --at 2026-05-18T00:01:00":             "bib 1 was at finish at 00:01:00 on 2026-05-18",
		"set-status --bib 1 --status none":                                     "bib 1 is not out",
		"set-status --bib 1 --status dnf":                                      "bib 1 is DNF",
		"set-clock --line finish --stepped main":                               "at finish it was main's clock that jumped; times before the jump stay",
		"set-clock --line finish --system backup --offset 3.217":               "backup's clock at finish is off by +3.217 s",
		"add-athlete --bib 9 --wave B":                                         "bib 9 is on the list: wave B",
		"add-athlete --bib 9 --wave B --name 'Niels Mead'":                     "bib 9 is on the list: Niels Mead, wave B",
		"undo --seq 7": "ruling 7 is taken back",
	} {
		if got := Words(&rulings(t, p, line)[0]); got != want {
			t.Errorf("%s\n got %s\nwant %s", line, got, want)
		}
	}
}

// Help names every kind of the outer surface and each of its flags.
func TestHelp(t *testing.T) {
	h := Help()
	for i, k := range kinds {
		if k.name != race.RulingKinds[i] || !strings.Contains(h, "  "+k.name+" ") {
			t.Errorf("kind %d is %s, want %s", i, k.name, race.RulingKinds[i])
		}
		for _, f := range k.flags {
			if !strings.Contains(h, "--"+f.name+" ") {
				t.Errorf("no --%s", f.name)
			}
		}
	}
	if len(kinds) != len(race.RulingKinds) || slices.Contains(race.RulingKinds, "") {
		t.Error("other kinds than those of the outer surface")
	}
}

func FuzzParseLine(f *testing.F) {
	f.Add("set-time --bib 1 --split finish --at 12:58:33.956 --plus-minus 0.5 --why 'so'")
	f.Add(`assign-chip --tag "A A" --bib 1 --from 2026-05-17T10:41:07Z --to=11:00:00`)
	f.Add("set-clock --line finish --system backup --offset +1m3.217s")
	p := plan(f)
	a, c := list(p)
	f.Fuzz(func(t *testing.T, line string) {
		r, err := ParseLine(line, p)
		if err != nil {
			return
		}
		back, err := Parse(r.Rule, Args(&r), p)
		if err == nil && !reflect.DeepEqual(back, r) {
			t.Fatalf("%+v reads back as %+v", r, back)
		}
		if Words(&r) == "" {
			t.Fatal("nothing to say")
		}
		if r.Seq, r.Why = 1, "x"; Check(&r, p, a, nil, nil) == nil {
			if f := Fold(p, a, c, []race.Ruling{r}); len(f.Idle) > 0 {
				t.Fatalf("%s was taken and is idle: %v", line, f.Idle)
			}
		}
	})
}
