package export

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// What a spreadsheet takes for a formula (OWASP, CSV injection; ASVS 5.0 V1.2.10; CWE-1236;
// payloads as in telerik.com's and codereviewlab.com's notes) starts with an apostrophe;
// anything else is left alone.
func TestTextIsNoFormula(t *testing.T) {
	for _, s := range []string{"=cmd|'/c calc'!A1", `=HYPERLINK("http://x")`, "@SUM(1+1)", "-2*3", "+SUM(A1:A10)", "\t=1", "\r=1", "\x00=1", "＝1", "＋1", "－1", "＠x", "\n=1"} {
		if got := Text(s); got != "'"+s {
			t.Errorf("%q became %q", s, got)
		}
	}
	for _, s := range []string{"", "Ada", "M-40", "'quoted", "1+1", "Ünal", "O'Neil"} {
		if got := Text(s); got != s {
			t.Errorf("%q became %q", s, got)
		}
	}
}

func made() *race.State {
	p := &race.Plan{Zone: time.FixedZone("", 3600), Lines: []race.Line{{ID: "finish"}}, Courses: []race.Course{{ID: "ten"}}, Waves: []race.Wave{{ID: "A"}}}
	st := &race.State{Plan: p}
	add := func(bib, state string, rank int32) {
		x := &race.Result{Athlete: race.Athlete{Bib: bib, Name: "=" + bib, Sex: "f"}, State: state, Gun: 0, StartAt: 0, FinishAt: race.NoInstant, Finish: -1,
			GunTime: race.NoMillis, NetTime: race.NoMillis, Official: race.NoMillis, PM: race.NoMillis}
		if rank > 0 {
			x.FinishAt, x.Finish, x.GunTime, x.NetTime, x.Official, x.PM, x.From = 3_600_500, 0, 3_600_500, 3_600_500, 3_601_000, 200, race.FromMain
		}
		st.Results, st.Ranks = append(st.Results, x), append(st.Ranks, race.Ranks{All: rank, Sex: rank})
	}
	add("2", "clean", 1)
	add("7", "held", 1)
	add("10", "running", 0)
	add("11", "dnf", 0)
	return st
}

func TestTimes(t *testing.T) {
	var b bytes.Buffer
	if err := Times(&b, made(), Options{}); err != nil {
		t.Fatal(err)
	}
	want := TimesHeader + "\n" +
		"ten,1,1,,2,'=2,f,,,A,clean,1:00:01.000,1:00:00.500,1:00:00.500,,1970-01-01T02:00:00.500+01:00,main,0.200,,\n" +
		"ten,1,1,,7,'=7,f,,,A,held,1:00:01.000,1:00:00.500,1:00:00.500,,1970-01-01T02:00:00.500+01:00,main,0.200,,\n" +
		"ten,,,,10,'=10,f,,,A,running,,,,,,,,,\n" +
		"ten,,,,11,'=11,f,,,A,dnf,,,,,,,,,\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
	b.Reset()
	if err := Times(&b, made(), Options{CleanOnly: true}); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(b.String(), "\n"); got != 3 { // header, the clean one, the dnf
		t.Errorf("clean only: %d lines\n%s", got, b.String())
	}
}

func TestChangesAreTold(t *testing.T) {
	before := "bib,state,official,rank\n2,clean,1:00:01.000,1\n7,held,1:00:02.000,2\n"
	after := "bib,state,official,rank\n2,clean,1:00:03.000,2\n7,held,1:00:02.000,1\n9,running,,\n"
	got, err := Compare(strings.NewReader(before), strings.NewReader(after))
	if err != nil {
		t.Fatal(err)
	}
	want := []Change{{"2", "rank", "1", "2"}, {"2", "official", "1:00:01.000", "1:00:03.000"}, {"7", "rank", "2", "1"}, {"9", "state", "", "running"}}
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%v, want %v", got[i], want[i])
		}
	}
}

func TestChangedSplitsAreTold(t *testing.T) {
	const head = "bib,course,split,line,at,gun_time,net_time,stretch_time,from,plus_minus_s,reads_main\n"
	row := func(bib, split, at, from, reads string) string {
		return bib + ",ten," + split + ",finish," + at + ",,,," + from + ",0.200," + reads + "\n"
	}
	before := head + row("2", "5k", "10:20", "main", "9") + row("2", "10k", "10:40", "main", "9") + row("7", "5k", "10:21", "main", "9") + row("9", "5k", "10:22", "main", "9") + row("10", "5k", "10:23", "main", "9")
	for _, c := range []struct {
		name, after string
		want        []Change
	}{
		{"nothing", before, nil},
		{"a time", strings.Replace(before, "10:40,,,,main", "10:41,,,,ruling", 1), []Change{{"2", "10k at", "10:40", "10:41"}, {"2", "10k from", "main", "ruling"}}},
		{"more reads of a passing", strings.Replace(before, ",9\n", ",11\n", 1), nil},
		{"a new split", before + row("10", "10k", "10:50", "backup", "0"), []Change{{"10", "10k at", "", "10:50"}, {"10", "10k from", "", "backup"}, {"10", "10k plus_minus_s", "", "0.200"}}},
		{"one in the middle", strings.Replace(before, "7,ten", row("3", "5k", "10:20", "main", "1")+"7,ten", 1), []Change{{"3", "5k at", "", "10:20"}, {"3", "5k from", "", "main"}, {"3", "5k plus_minus_s", "", "0.200"}}},
		{"one that went", strings.Replace(before, row("2", "5k", "10:20", "main", "9"), "", 1), []Change{{"2", "5k at", "10:20", ""}, {"2", "5k from", "main", ""}, {"2", "5k plus_minus_s", "0.200", ""}}},
	} {
		got, err := CompareSplits(strings.NewReader(before), strings.NewReader(c.after))
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, %v", c.name, got, err)
		}
	}
	if got, err := CompareSplits(strings.NewReader("any other table\n9\n2\n"), strings.NewReader(before)); err == nil {
		t.Errorf("what is no export: %v", got)
	}
}
