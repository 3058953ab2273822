package suspect

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// tooClose: one of the first ranks, overall or within a sex, rests on less than both times'
// intervals: the finish judge or the photo decides, chips can't.
func tooClose(f *field) []race.Suspect {
	var found []race.Suspect
	told := map[string]bool{}
	f.first.renew(f)
	for c := range f.courses {
		x := &f.first.courses[c]
		found = append(found, f.closeAmong(c, x.overall.best, "overall", told)...)
		for _, sex := range slices.Sorted(maps.Keys(x.bySex)) {
			if some := x.bySex[sex]; some.of < x.overall.of {
				found = append(found, f.closeAmong(c, some.best, "sex "+sex, told)...)
			}
		}
	}
	return found
}

// tiedMost bounds how many that finished at the same moment are told pair by pair.
const tiedMost = 6

// justBefore is what is ruled of whoever was first of two all the same: it tells their order, and
// no more is to be asked of it.
const justBefore = race.Millis(1)

func (f *field) closeAmong(c int, order []race.Finish, among string, told map[string]bool) []race.Suspect {
	var found []race.Suspect
	ranks := f.ranks(c, order)
	for n := 0; n < len(order) && n < f.plan.Courses[c].Prizes; n++ {
		for m := n + 1; m < len(order) && m <= n+tiedMost; m++ {
			a, b := f.st.Results[order[n].At], f.st.Results[order[m].At]
			d := order[m].Time - order[n].Time
			if order[n].Behind != order[m].Behind || d > 0 && m > n+1 {
				break
			}
			limit := f.apartBy(a, b)
			if d >= limit {
				break
			}
			if d == justBefore && a.From == race.FromRuling && a.PM == 0 {
				continue
			}
			id, bibs := pairID(race.TooClose, a.Bib, b.Bib)
			if told[id] {
				continue
			}
			told[id] = true
			s := race.Suspect{Finding: &race.Finding{ID: id, Kind: race.TooClose, Weight: race.Look, Bibs: bibs, At: a.FinishAt}, Urgency: urgentFirst - n}
			sp := &a.Splits[a.Finish]
			s.Line, s.Split = f.line(sp.Line), sp.ID
			who := fmt.Sprintf("Ranks %d and %d (%s), %s before %s, are", ranks[n], ranks[m], among, a.Bib, b.Bib)
			if ranks[n] == ranks[m] {
				who = fmt.Sprintf("%s and %s share rank %d (%s),", a.Bib, b.Bib, ranks[n], among)
			}
			s.Says = fmt.Sprintf("%s %.3f s apart; the times tell them apart from %.3f s on. The finish judge or the photo decides.", who, d.Seconds(), limit.Seconds())
			s.Proposes = accept(id)
			s.Others = []string{
				fmt.Sprintf("set-time --bib %s --split %s --at %s", arg(b.Bib), arg(b.Splits[b.Finish].ID), f.when(b.FinishAt.Add(-d-justBefore))),
			}
			s.Evidence = fmt.Sprintf("%s before %s by %s", a.Bib, b.Bib, d.Decimal())
			found = append(found, s)
		}
	}
	return found
}

// ranks are those of finishes in order, as they will be given: equal times share one.
func (f *field) ranks(c int, order []race.Finish) []int {
	ranks := make([]int, len(order))
	for n, x := range order {
		ranks[n] = n + 1
		if n == 0 {
			continue
		}
		last := order[n-1]
		if f.plan.Courses[c].Official.TiesOfficial {
			x.Time, last.Time = f.st.Results[x.At].Official, f.st.Results[last.At].Official
		}
		if x.Compare(last) == 0 {
			ranks[n] = ranks[n-1]
		}
	}
	return ranks
}

// apartBy is the least difference of two finishes that decides their order: what two chips
// need to be told apart on one clock, both intervals where a clock model comes in.
func (f *field) apartBy(a, b *race.Result) race.Millis {
	res := f.plan.Resolution
	if a.From == race.FromMain && b.From == race.FromMain {
		return res
	}
	sum := 0.0
	for _, r := range []*race.Result{a, b} {
		pm := r.PM
		if !pm.Known() {
			pm = res
		}
		if r.From == race.FromMain {
			pm = min(pm, res)
		}
		sum += float64(pm) * float64(pm)
	}
	return max(res, race.Millis(math.Ceil(math.Sqrt(sum))))
}
