package report

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

//go:embed announcer.html
var announcer string

// How many the announcer's page tells of: what can be read out at a glance.
const (
	leadersTold = 10 // of a course
	bySexTold   = 3
	comersTold  = 25 // last over a finish
)

// Announcer writes the page that lies before whoever speaks at the finish: who leads, and
// who came last. It is provisional, and says so; held times are marked. It loads itself anew.
func Announcer(w io.Writer, st *race.State) error {
	t, err := template.New("announcer").Parse(announcer)
	if err != nil {
		return err
	}
	return t.Execute(w, spoken(st))
}

type spokenPage struct {
	Name, Now string
	Courses   []spokenCourse
	Last      []spokenOf
}

type spokenCourse struct {
	ID     string
	First  []spokenOf
	BySex  []spokenSex
	In, On int // finishers; on the course
}

type spokenSex struct {
	Sex   string
	First []spokenOf
}

// spokenOf is one athlete: Rank 0 is still on the course, last seen at Where.
type spokenOf struct {
	Rank, rankSex                                 int
	Bib, Name, Team, Sex, Course, Time, Where, At string
	Held                                          bool
	at                                            race.Instant
	metres                                        float64
	took, official                                race.Millis // to Where, on the clock that ranks; of the finish
	laps                                          int         // of a finish, where they rank
}

func spoken(st *race.State) *spokenPage {
	p := &spokenPage{Name: st.Plan.Name, Now: "--:--:--"}
	if st.Now.Known() {
		p.Now = st.Now.Clock(st.Plan.Zone)
	}
	for c := range st.Plan.Courses {
		p.Courses = append(p.Courses, spokenCourse{ID: st.Plan.Courses[c].ID})
	}
	all, in := make([][]*spokenOf, len(p.Courses)), []*spokenOf(nil)
	for i := range st.Results {
		x := st.Results[i]
		if x.Course < 0 || x.State == race.DNS || x.State == race.DNF || x.State == race.DSQ {
			continue
		}
		o, ok := speak(st, i)
		if !ok {
			continue
		}
		all[x.Course] = append(all[x.Course], o)
		if o.Rank > 0 {
			p.Courses[x.Course].In++
			in = append(in, o)
		} else {
			p.Courses[x.Course].On++
		}
	}
	for c := range all {
		slices.SortStableFunc(all[c], ahead)
		p.Courses[c].First = first(st, all[c], leadersTold)
		p.Courses[c].BySex = bySex(st, all[c])
	}
	slices.SortStableFunc(in, func(a, b *spokenOf) int {
		if a.at != b.at {
			return cmp.Compare(b.at, a.at)
		}
		return race.CompareBibs(a.Bib, b.Bib)
	})
	p.Last = first(st, in, comersTold)
	return p
}

// first are the first few of many, with their times in words.
func first(st *race.State, of []*spokenOf, few int) []spokenOf {
	var out []spokenOf
	for _, o := range of[:min(len(of), few)] {
		out = append(out, o.inWords(st))
	}
	return out
}

// speak says of an athlete what is said aloud; false of one not yet seen on the course.
func speak(st *race.State, i int) (*spokenOf, bool) {
	x, ranks := st.Results[i], st.Ranks[i]
	o := &spokenOf{Rank: int(ranks.All), Bib: x.Bib, Name: x.Name, Team: x.Team, Sex: x.Sex, Course: st.Plan.Courses[x.Course].ID, Held: x.State == race.Held, at: race.NoInstant, rankSex: int(ranks.Sex)}
	split, at := x.Reached()
	if split < 0 || !at.Known() {
		return o, false
	}
	o.at, o.metres, o.Where = at, x.Splits[split].At, x.Splits[split].ID
	o.took, o.official = at.Sub(st.Began(x)), x.Official
	if st.Plan.Courses[x.Course].ByLaps() {
		o.laps = x.Laps
	}
	return o, true
}

// inWords is the same athlete with the times as they are said.
func (o *spokenOf) inWords(st *race.State) spokenOf {
	told := *o
	told.At, told.Time = o.at.Clock(st.Plan.Zone), aloud(o.took)
	if o.Rank > 0 {
		if told.Time = aloud(o.official); o.laps == 1 {
			told.Time = "1 lap " + told.Time
		} else if o.laps > 0 {
			told.Time = fmt.Sprintf("%d laps %s", o.laps, told.Time)
		}
	}
	return told
}

// aloud leaves out the fraction of a whole second.
func aloud(t race.Millis) string { return strings.TrimSuffix(t.String(), ".000") }

// ahead orders those in by rank, then those on the course by how far they are and how long
// that took them.
func ahead(a, b *spokenOf) int {
	switch {
	case (a.Rank > 0) != (b.Rank > 0):
		return cmp.Compare(b.Rank, a.Rank)
	case a.Rank > 0:
		if a.Rank != b.Rank {
			return cmp.Compare(a.Rank, b.Rank)
		}
		return race.CompareBibs(a.Bib, b.Bib)
	}
	if c := cmp.Or(cmp.Compare(b.metres, a.metres), cmp.Compare(a.took, b.took)); c != 0 {
		return c
	}
	return race.CompareBibs(a.Bib, b.Bib)
}

// bySex are the first of each sex with their place in it, in order of the first of them; one
// sex alone is no list.
func bySex(st *race.State, all []*spokenOf) []spokenSex {
	var out []spokenSex
	for _, o := range all {
		sex := strings.ToLower(o.Sex)
		if sex == "" {
			continue
		}
		k := slices.IndexFunc(out, func(s spokenSex) bool { return s.Sex == sex })
		if k < 0 {
			k = len(out)
			out = append(out, spokenSex{Sex: sex})
		}
		if len(out[k].First) < bySexTold {
			told := o.inWords(st)
			told.Rank = o.rankSex
			out[k].First = append(out[k].First, told)
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}
