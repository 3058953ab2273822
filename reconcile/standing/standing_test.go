package standing

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// field is three on a course of two splits: the first in, the second past the turn, a third,
// of the other sex, slower at the turn; and a stray chip.
func field() *race.State {
	gun := race.Instant(1_779_000_000_000)
	p := &race.Plan{Courses: []race.Course{{ID: "c", Splits: []race.Split{{ID: "start"}, {ID: "turn", At: 1000}, {ID: "finish", At: 2000}}}}}
	at := func(split, seconds int) race.Passing {
		return race.Passing{At: gun.Add(race.Millis(seconds) * 1000), Split: split}
	}
	run := func(bib, sex, state string, seconds ...int) *race.Result {
		r := &race.Result{Athlete: race.Athlete{Bib: bib, Sex: sex}, Gun: gun, StartAt: gun, State: state, Splits: p.Courses[0].Splits, Filled: []int{-1, -1, -1}, Finish: -1}
		for i, s := range seconds {
			r.Passings, r.Filled[i] = append(r.Passings, at(i, s)), i
		}
		if len(seconds) == 3 {
			r.Finish = 2
		}
		return r
	}
	return &race.State{Plan: p, Now: gun.Add(700_000), Results: []*race.Result{run("1", "m", "clean", 0, 200, 410), run("2", "m", "running", 0, 210), run("3", "f", "running", 0, 300), run("4", "f", "unseen")},
		Ranks: []race.Ranks{{All: 1, Sex: 1}, 3: {}}, Expected: slices.Repeat([]race.Instant{race.NoInstant}, 4),
		Strays: []race.StrayTag{{Tag: "X", Passings: []race.Passing{at(-1, 350)}}}}
}

func TestWhoHasJustCrossedAndAsWhat(t *testing.T) {
	st := field()
	l := Look(st, 4, nil).Latest
	var got [][3]int
	for _, c := range l {
		got = append(got, [3]int{c.Result, c.Rank, c.RankSex})
	}
	want := [][3]int{{0, 1, 1}, {-1, 0, 0}, {2, 3, 1}, {1, 2, 2}}
	if len(got) != 4 {
		t.Fatalf("%v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("crossing %d is %v, want %v (athlete, rank, rank by sex)", i, got[i], want[i])
		}
	}
}

// Where no sex is told everybody counts once.
func TestRunningRanksWithoutSexes(t *testing.T) {
	st := field()
	for i := range st.Results {
		st.Results[i].Sex = ""
	}
	for n, want := range []int{1, 0, 3, 2} {
		if c := Look(st, 4, nil).Latest[n]; c.Rank != want || c.RankSex != 0 {
			t.Errorf("crossing %d is %d. and %d., want %d. of all", n, c.Rank, c.RankSex, want)
		}
	}
}

// Whose gun hasn't fired has no rank, and leaves the others of the course theirs.
func TestRunningRanksBeforeAGun(t *testing.T) {
	st := field()
	st.Results[2].Gun, st.Results[2].StartAt = race.NoInstant, race.NoInstant
	l := Look(st, 3, nil).Latest // only they, of all who passed the turn
	if len(l) != 3 || l[0].Rank != 1 || l[2].Result != 2 || l[2].Rank != 0 || l[2].RankSex != 0 {
		t.Errorf("%+v", l)
	}
}

// Ranks of the latest crossings are those that sorting all times gives.
func TestRunningRanksOfManyAreTheOrderOfTheirTimes(t *testing.T) {
	g := rand.New(rand.NewPCG(4, 7))
	for range 200 {
		st := field()
		one := st.Results[0]
		st.Results, st.Strays = nil, nil
		for range 1 + g.IntN(60) {
			x := *one
			r := &x
			r.Sex, r.State = []string{"m", "F", "f", ""}[g.IntN(4)], []string{"clean", "running", "dsq"}[g.IntN(3)]
			r.Passings = slices.Clone(one.Passings)
			for k := range r.Passings {
				r.Passings[k].At = r.Gun.Add(race.Millis(1000 * (300*k + g.IntN(40))))
			}
			st.Results = append(st.Results, r)
		}
		st.Ranks = make([]race.Ranks, len(st.Results))
		for _, c := range Look(st, 20, nil).Latest {
			r := st.Results[c.Result]
			k := r.Passings[c.Passing].Split
			rank, bySex := 1, 1
			for i := range st.Results {
				if x := st.Results[i]; x.State != "dsq" && x.Passings[k].At < r.Passings[k].At {
					rank++
					if strings.EqualFold(x.Sex, r.Sex) {
						bySex++
					}
				}
			}
			if r.State == "dsq" || k == 0 {
				rank, bySex = 0, 0
			}
			if r.Sex == "" {
				bySex = 0
			}
			if c.Rank != rank || c.RankSex != bySex {
				t.Fatalf("%d. and %d. of the sex, want %d. and %d.", c.Rank, c.RankSex, rank, bySex)
			}
		}
	}
}

func TestWhoLeads(t *testing.T) {
	boards := allLeaders(field())
	if len(boards) != 3 || boards[0].Sex != "" || boards[0].Where != "" || len(boards[0].First) != 3 || boards[0].First[0] != 0 || boards[0].First[1] != 1 || boards[0].First[2] != 2 {
		t.Fatalf("%+v", boards)
	}
	if f := boards[1]; f.Sex != "F" || f.Where != "turn" || len(f.First) != 1 || f.First[0] != 2 {
		t.Errorf("of the women %+v", f)
	}
}

func TestWhoIsStillOutAndWhenTheyMayCome(t *testing.T) {
	st := field()
	st.Expected[1], st.Expected[2] = st.Results[1].Gun.Add(420_000), st.Results[2].Gun.Add(600_000)
	var outs []Out
	for _, i := range outOf(Look(st, 1, nil)) {
		outs = append(outs, OutOf(st, i))
	}
	if len(outs) != 2 || outs[0].Result != 1 || outs[1].Result != 2 {
		t.Fatalf("%+v", outs)
	}
	o := outs[0]
	if o.Place != "turn" || o.Next != "finish" || o.Expected.Sub(st.Results[1].Gun) != 420_000 || o.Late != 280_000 {
		t.Errorf("%+v, expected %s after the gun", o, o.Expected.Sub(st.Results[1].Gun))
	}
}

// Whoever looks for somebody is told where they were read last, though that fills no split: by a bib
// that the list lacks, before the gun, on the way home.
func TestWhereSomebodyWasReadLast(t *testing.T) {
	st := &race.State{Now: 900_000, Plan: &race.Plan{Lines: []race.Line{{ID: "start"}, {ID: "turn"}, {ID: "finish"}}}}
	course := []race.Split{{ID: "start", Line: 0}, {ID: "10k", Line: 1}, {ID: "finish", Line: 2}}
	at := func(line, split int, t race.Instant, fate race.Fate) race.Passing {
		return race.Passing{Line: line, Split: split, At: t, Fate: fate}
	}
	for _, c := range []struct {
		what  string
		r     race.Result
		place string
		last  race.Instant
	}{
		{"a split", race.Result{Splits: course, Filled: []int{0, 1, -1}, Passings: []race.Passing{at(0, 0, 10, race.InSplit), at(1, 1, 300, race.InSplit)}}, "10k", 300},
		{"stayed by it", race.Result{Splits: course, Filled: []int{0, 1, -1}, Passings: []race.Passing{at(0, 0, 10, race.InSplit), at(1, 1, 300, race.InSplit), at(1, -1, 400, race.StayedNear)}}, "10k", 300},
		{"on the way home", race.Result{Splits: course, Filled: []int{0, 1, -1}, Passings: []race.Passing{at(0, 0, 10, race.InSplit), at(1, 1, 300, race.InSplit), at(0, -1, 700, race.Extra)}}, "start", 700},
		{"voided", race.Result{Splits: course, Filled: []int{0, 1, -1}, Passings: []race.Passing{at(0, 0, 10, race.InSplit), at(1, 1, 300, race.InSplit), at(0, -1, 700, race.Voided)}}, "10k", 300},
		{"before the gun", race.Result{Splits: course, Filled: []int{-1, -1, -1}, Passings: []race.Passing{at(0, -1, 5, race.BeforeGun)}}, "start", 5},
		{"not on the list", race.Result{Passings: []race.Passing{at(0, -1, 5, race.NotOnCourse), at(2, -1, 800, race.NotOnCourse)}}, "finish", 800},
		{"nowhere", race.Result{Splits: course, Filled: []int{-1, -1, -1}}, "", race.NoInstant},
	} {
		c.r.Finish, c.r.State = -1, race.Running
		st.Results, st.Expected = []*race.Result{&c.r}, []race.Instant{race.NoInstant}
		if o := OutOf(st, 0); o.Place != c.place || o.Last != c.last {
			t.Errorf("%s: %q at %d, want %q at %d", c.what, o.Place, o.Last, c.place, c.last)
		}
	}
}
