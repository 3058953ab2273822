package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

const (
	swapMargin  = 5    // nats by which both stories together must be better exchanged
	swapEach    = 1.5  // of them, what each must have by wave, course and splits
	swapByLevel = 5.0  // or by the level alone
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
	own := make([]*group, len(f.kinds.of)) // per kind, nil: not known
	for n, i := range f.kinds.of {
		own[n] = groupIn(&f.st.Results[i], groups)
	}
	var odd []int
	for i := range f.st.Results {
		k := f.kinds.kind[i]
		if k < 0 || f.startedInTime(i) && !f.otherCourse[i] && math.Abs(levelOff(f.level[i], own[k])) <= oddLevel {
			continue // nothing speaks against most
		}
		if f.oddOne(i, own[k]) {
			odd = append(odd, i)
		}
	}
	if len(odd) < 2 || len(odd) > mostSwaps {
		return nil
	}
	type pair struct {
		a, b int
		gain float64
	}
	var pairs []pair
	for n, a := range odd {
		for _, b := range odd[n+1:] {
			if g := f.exchange(a, b, groups); g >= swapMargin {
				pairs = append(pairs, pair{a, b, g})
			}
		}
	}
	slices.SortStableFunc(pairs, func(x, y pair) int { return cmp.Compare(y.gain, x.gain) })
	var found []race.Suspect
	for n, p := range pairs {
		_, x := f.exchanged[p.a]
		_, y := f.exchanged[p.b]
		if x || y {
			continue
		}
		f.exchanged[p.a], f.exchanged[p.b] = p.b, p.a
		s := f.tellSwap(p.a, p.b, p.gain)
		// Who else either of them may have exchanged with, likeliest first.
		margin := p.gain
		for m, q := range pairs {
			if m == n || q.a != p.a && q.a != p.b && q.b != p.a && q.b != p.b {
				continue
			}
			margin = math.Min(margin, p.gain-q.gain)
			if len(s.Others) < 3 {
				s.Others = append(s.Others, swapBibs(f.st.Results[q.a].Bib, f.st.Results[q.b].Bib))
			}
		}
		s.Strong = p.gain > 2*swapMargin && margin > swapMargin
		if margin < swapMargin {
			s.Says = s.Says[:len(s.Says)-1] + "; others fit nearly as well."
		}
		s.Others = append(s.Others, accept(s.ID))
		found = append(found, s)
	}
	return found
}

// groups are the levels by sex and category, and by sex.
func (f *field) groups() map[string]group {
	by := map[string][]float64{}
	for n, ls := range f.levelsByKind() {
		for _, k := range groupsOf(&f.st.Results[f.kinds.of[n]]) {
			by[k] = append(by[k], ls...)
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
func levelOff(level float64, g *group) float64 {
	if g == nil || math.IsNaN(level) {
		return 0
	}
	return (level - g.mid) / g.sd
}

// groupIn is the narrowest known group of an athlete, nil for none.
func groupIn(r *race.Result, groups map[string]group) *group {
	for _, k := range groupsOf(r) {
		if g, ok := groups[k]; ok {
			return &g
		}
	}
	return nil
}

// oddOne tells whether anything speaks against an athlete's being who the list says.
func (f *field) oddOne(i int, own *group) bool {
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
	return math.Abs(levelOff(f.level[i], own)) > oddLevel
}

// exchange is by how many nats two stories are better with the bibs exchanged; 0 when either
// is worse by itself.
func (f *field) exchange(a, b int, groups map[string]group) float64 {
	x, y := &f.st.Results[a], &f.st.Results[b]
	if x.Wave == y.Wave && slices.Equal(groupsOf(x)[:1], groupsOf(y)[:1]) {
		return 0 // nothing tells them apart
	}
	px, py := crossings(x.Passings), crossings(y.Passings)
	tells := func(ps []race.Passing, as *race.Result) float64 { return f.tell(ps, as.Wave, as.Gun).cost }
	level := func(l float64, as *race.Result) float64 {
		z := levelOff(l, groupIn(as, groups))
		return math.Min(z*z/2, levelCap)
	}
	sx, sy := tells(px, x)-tells(px, y), tells(py, y)-tells(py, x)
	lx, ly := level(f.level[a], x)-level(f.level[a], y), level(f.level[b], y)-level(f.level[b], x)
	// One who ran another course or started with another wave has a story of their own; only
	// two whose stories mirror each other, or whose levels are each the other's, exchanged.
	if f.otherCourse[a] != f.otherCourse[b] || f.otherCourse[a] && lx+ly < swapEach {
		return 0
	}
	if !(sx >= swapEach && sy >= swapEach) && !(sx > -1 && sy > -1 && lx >= swapByLevel && ly >= swapByLevel) {
		return 0
	}
	return sx + sy + lx + ly
}

func (f *field) tellSwap(a, b int, gain float64) race.Suspect {
	x, y := &f.st.Results[a], &f.st.Results[b]
	s := suspect(race.Swapped, race.Look, "")
	s.ID, s.Bibs = pairID(race.Swapped, x.Bib, y.Bib)
	s.Says = fmt.Sprintf("The stories of %s (wave %s, %s %s) and %s (wave %s, %s %s) both fit better exchanged, e^%.0f times likelier together: they may wear each other's bibs.",
		x.Bib, f.plan.Waves[x.Wave].ID, x.Sex, x.Category, y.Bib, f.plan.Waves[y.Wave].ID, y.Sex, y.Category, math.Min(gain, 99))
	s.Proposes = swapBibs(x.Bib, y.Bib)
	s.At = x.FinishAt
	if !s.At.Known() {
		s.At = f.times[a][f.last(a)]
	}
	s.Evidence = fmt.Sprintf("%s as %s", f.mark(a, f.times[a][f.last(a)]), f.mark(b, f.times[b][f.last(b)]))
	return s
}
