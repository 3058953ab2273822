package report

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"

	"twinmat/reconcile/race"
)

// The announcer's page: those in by rank, then those out by how far they are; the last to
// come first; held ones marked; text stays text and no birth date is shown.
func TestTheAnnouncersPage(t *testing.T) {
	p := &race.Plan{Name: "Mile <b>& more", Zone: time.UTC, Courses: []race.Course{{ID: "mile", Splits: []race.Split{{ID: "half", At: 800}, {ID: "finish", At: 1609}}}}}
	gun := race.Instant(1_779_000_000_000)
	at := func(s int) race.Passing { return race.Passing{At: gun.Add(race.Millis(s) * 1000)} }
	done := func(bib, sex, state string, seconds int) *race.Result {
		return &race.Result{Athlete: race.Athlete{Bib: bib, Name: "N" + bib, Sex: sex, Birth: "1981-02-03"}, Gun: gun, State: state, Official: race.Millis(seconds) * 1000,
			Splits: p.Courses[0].Splits, Passings: []race.Passing{at(seconds / 2), at(seconds)}, Filled: []int{0, 1}, Finish: 1}
	}
	out := func(bib string, seconds int) *race.Result {
		return &race.Result{Athlete: race.Athlete{Bib: bib, Name: `<script>alert("` + bib + `")</script>`, Sex: "f"}, Gun: gun, State: "running", Splits: p.Courses[0].Splits,
			Passings: []race.Passing{at(seconds)}, Filled: []int{0, -1}, Finish: -1}
	}
	gone := done("9", "m", "dsq", 200)
	unseen := &race.Result{Athlete: race.Athlete{Bib: "8", Name: "N8"}, Gun: gun, State: "unseen", Splits: p.Courses[0].Splits, Filled: []int{-1, -1}, Finish: -1}
	st := &race.State{Plan: p, Now: gun.Add(400_000), Results: []*race.Result{done("1", "m", "clean", 310), done("2", "F", "held", 300), done("3", "m", "clean", 311), out("4", 170), out("5", 160), unseen, gone},
		Ranks: []race.Ranks{{All: 2, Sex: 1}, {All: 1, Sex: 1}, {All: 3, Sex: 2}, 6: {}}}
	var b bytes.Buffer
	if err := Announcer(&b, st); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	var bibs []string
	for _, m := range regexp.MustCompile(`class="bib">(\d+)<`).FindAllStringSubmatch(page, -1) {
		bibs = append(bibs, m[1])
	}
	if got, want := strings.Join(bibs, " "), "2 1 3 5 4  2 5 4  1 3  3 1 2"; got != strings.Join(strings.Fields(want), " ") {
		t.Errorf("the bibs in order are %s, want %s", got, want)
	}
	if !regexp.MustCompile(`<h3>first m</h3>\s*<div class="wide"><table><tr><td class="n">1</td><td class="bib">1<`).MatchString(page) {
		t.Error("the first man isn't told as the first of them")
	}
	for _, want := range []string{"Mile &lt;b&gt;&amp; more", "3 in, 2 on the course", "5:00<", "at half", " waits"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q isn't there", want)
		}
	}
	for _, never := range []string{"<script", "1981", "N9", "N8", "<b>"} {
		if strings.Contains(page, never) {
			t.Errorf("%q is there", never)
		}
	}
}

// Where net time ranks, those on the course are told by it as well: who started later and
// took less leads, though they came after.
func TestTheAnnouncerTellsNetTimes(t *testing.T) {
	p := &race.Plan{Name: "Ten", Zone: time.UTC, Courses: []race.Course{{ID: "ten", Splits: []race.Split{{ID: "start"}, {ID: "half", At: 5000}, {ID: "finish", At: 10000}}}}}
	p.Courses[0].Official.Net = true
	gun := race.Instant(1_779_000_000_000)
	on := func(bib string, start, half race.Millis) *race.Result {
		return &race.Result{Athlete: race.Athlete{Bib: bib, Name: "N" + bib}, Gun: gun, StartAt: gun.Add(start), State: "running", Splits: p.Courses[0].Splits,
			Passings: []race.Passing{{At: gun.Add(start)}, {At: gun.Add(half)}}, Filled: []int{0, 1, -1}, Finish: -1}
	}
	st := &race.State{Plan: p, Now: gun.Add(2_000_000), Results: []*race.Result{on("1", 5_000, 1_205_000), on("2", 60_000, 1_230_000)}, Ranks: make([]race.Ranks, 2)}
	first := spoken(st).Courses[0].First
	if len(first) != 2 || first[0].Bib != "2" || first[0].Time != "0:19:30" || first[1].Time != "0:20:00" {
		t.Errorf("on the course: %+v", first)
	}
}

// Where laps rank, a later time may lead: the laps are told before it.
func TestTheAnnouncerTellsLaps(t *testing.T) {
	p := &race.Plan{Name: "Six", Zone: time.UTC, Courses: []race.Course{{ID: "six", TimeLimit: 21_600_000, Splits: []race.Split{{ID: "lap-1", At: 1500, Lap: 1}, {ID: "lap-2", At: 3000, Lap: 2}}}}}
	gun := race.Instant(1_779_000_000_000)
	in := func(bib string, laps int, official race.Millis) *race.Result {
		return &race.Result{Athlete: race.Athlete{Bib: bib}, Gun: gun, State: "clean", Laps: laps, Official: official, Splits: p.Courses[0].Splits,
			Passings: []race.Passing{{At: gun.Add(official)}}, Filled: []int{0, -1}, Finish: 0}
	}
	st := &race.State{Plan: p, Results: []*race.Result{in("1", 2, 800_000), in("2", 1, 400_000)}, Ranks: []race.Ranks{{All: 1}, {All: 2}}}
	first := spoken(st).Courses[0].First
	if len(first) != 2 || first[0].Time != "2 laps 0:13:20" || first[1].Time != "1 lap 0:06:40" {
		t.Errorf("in: %+v", first)
	}
}
