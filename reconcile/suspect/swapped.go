package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	swapMargin  = 5    // nats by which both stories together must be better exchanged
	oddLevel    = 3.0  // spreads off the own group's level that make somebody worth trying
	mostSwaps   = 150  // candidates; beyond, the odd ones are a field of their own
	groupEnough = 12   // athletes that make a group's level known
	groupFloor  = 0.10 // a group's level is never known to spread less, log pace
	levelCap    = 10.0 // nats that a level alone may speak with
)

// group is a sex and category with the level that its athletes run at.
type group struct{ mid, sd float64 }

// swapped: two bibs whose stories both fit better exchanged: by wave, by course, by the
// level of their sex and category. What wave, sex and level don't tell apart can't be seen
// from times at all.
func swapped(f *field) []race.Suspect {
	groups := f.groups()
	var odd []int
	for i := range f.st.Results {
		if f.oddOne(i, groups) {
			odd = append(odd, i)
		}
	}
	if len(odd) < 2 || len(odd) > mostSwaps {
		return nil
	}
	best := make(map[int]int, len(odd))
	gain := make(map[int]float64, len(odd))
	for n, a := range odd {
		for _, b := range odd[n+1:] {
			g := f.exchange(a, b, groups)
			for _, p := range [][2]int{{a, b}, {b, a}} {
				if g > gain[p[0]] {
					best[p[0]], gain[p[0]] = p[1], g
				}
			}
		}
	}
	var found []race.Suspect
	for _, a := range odd {
		b, ok := best[a]
		if !ok || a > b || best[b] != a || gain[a] < swapMargin {
			continue
		}
		f.exchanged[a], f.exchanged[b] = b, a
		found = append(found, f.tellSwap(a, b, gain[a]))
	}
	return found
}

// groups are the levels by sex and category, and by sex.
func (f *field) groups() map[string]group {
	by := map[string][]float64{}
	for i := range f.st.Results {
		r := &f.st.Results[i]
		if l := f.level[i]; !math.IsNaN(l) && r.Course >= 0 {
			for _, k := range groupsOf(r) {
				by[k] = append(by[k], l)
			}
		}
	}
	out := map[string]group{}
	for k, ls := range by {
		if len(ls) >= groupEnough {
			mid, sd := spread(ls)
			out[k] = group{mid, math.Max(sd, groupFloor)}
		}
	}
	return out
}

func groupsOf(r *race.Result) []string {
	c := fmt.Sprint(r.Course)
	return []string{c + "/" + r.Sex + "/" + r.Category, c + "/" + r.Sex}
}

// levelOff is how many spreads a level is from what an athlete's group runs at; 0 where no
// group is known.
func levelOff(r *race.Result, level float64, groups map[string]group) float64 {
	if math.IsNaN(level) {
		return 0
	}
	for _, k := range groupsOf(r) {
		if g, ok := groups[k]; ok {
			return (level - g.mid) / g.sd
		}
	}
	return 0
}

// oddOne tells whether anything speaks against an athlete's being who the list says.
func (f *field) oddOne(i int, groups map[string]group) bool {
	r := &f.st.Results[i]
	if r.Course < 0 || r.Wave < 0 || r.Start.Known() || out(r) || f.last(i) < 0 {
		return false
	}
	if f.otherCourse[i] || f.beganEarly(i).Known() {
		return true
	}
	if w, _ := f.startedLater(i); w >= 0 {
		return true
	}
	return math.Abs(levelOff(r, f.level[i], groups)) > oddLevel
}

// exchange is by how many nats two stories are better with the bibs exchanged; 0 when either
// is worse by itself.
func (f *field) exchange(a, b int, groups map[string]group) float64 {
	x, y := &f.st.Results[a], &f.st.Results[b]
	if x.Wave == y.Wave && slices.Equal(groupsOf(x)[:1], groupsOf(y)[:1]) {
		return 0 // nothing tells them apart
	}
	px, py := crossings(x.Passings), crossings(y.Passings)
	cost := func(ps []race.Passing, level float64, as *race.Result) float64 {
		z := levelOff(as, level, groups)
		return f.tell(ps, as.Wave).cost + math.Min(z*z/2, levelCap)
	}
	gx := cost(px, f.level[a], x) - cost(px, f.level[a], y)
	gy := cost(py, f.level[b], y) - cost(py, f.level[b], x)
	if gx < 1 || gy < 1 {
		return 0
	}
	return gx + gy
}

func (f *field) tellSwap(a, b int, gain float64) race.Suspect {
	x, y := &f.st.Results[a], &f.st.Results[b]
	s := suspect(race.Swapped, race.Look, "")
	s.ID, s.Bibs = pairID(race.Swapped, x.Bib, y.Bib)
	s.Says = fmt.Sprintf("The stories of %s (wave %s, %s %s) and %s (wave %s, %s %s) both fit better exchanged, e^%.0f times likelier together: they may wear each other's bibs.",
		x.Bib, f.plan.Waves[x.Wave].ID, x.Sex, x.Category, y.Bib, f.plan.Waves[y.Wave].ID, y.Sex, y.Category, math.Min(gain, 99))
	s.Proposes, s.Strong = swapBibs(x.Bib, y.Bib), gain > 2*swapMargin
	s.Others = []string{accept(s.ID)}
	s.At = x.FinishAt
	if !s.At.Known() {
		s.At = f.times[a][f.last(a)]
	}
	s.Evidence = fmt.Sprintf("%s as %s", f.mark(a, f.times[a][f.last(a)]), f.mark(b, f.times[b][f.last(b)]))
	return s
}
