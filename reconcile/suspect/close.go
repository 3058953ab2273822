package suspect

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// tooClose: one of the first ranks, overall or within a sex, rests on less than both times'
// intervals: the finish judge or the photo decides, chips can't.
func tooClose(f *field) []race.Suspect {
	var found []race.Suspect
	told := map[string]bool{}
	for c := range f.courses {
		all := finishers(f.st, c, f.courses[c].results)
		many := f.plan.Courses[c].Prizes + tiedMost
		bySex := map[string][]race.Finish{}
		for _, x := range all {
			if sex := strings.ToLower(f.st.Results[x.At].Sex); sex != "" {
				bySex[sex] = append(bySex[sex], x)
			}
		}
		found = append(found, f.closeAmong(c, first(all, many), "overall", told)...)
		for _, sex := range slices.Sorted(maps.Keys(bySex)) {
			if some := bySex[sex]; len(some) < len(all) {
				found = append(found, f.closeAmong(c, first(some, many), "sex "+sex, told)...)
			}
		}
	}
	return found
}

// finishers are the finishes, of these results of a course, that will have a rank, in no order.
func finishers(st *race.State, c int, results []int) []race.Finish {
	all := make([]race.Finish, 0, len(results))
	for _, i := range results {
		r := st.Results[i]
		if r.Finish < 0 || uncounted(r) {
			continue
		}
		if x := st.Plan.Courses[c].FinishOf(r, i); x.Time.Known() {
			all = append(all, x)
		}
	}
	return all
}

// first are the first many in order; the rest is left out.
func first(all []race.Finish, many int) []race.Finish {
	best := make([]race.Finish, 0, 2*many+2)
	var last *race.Finish // the last of many, so far
	for _, x := range all {
		if last != nil && last.Order(x) < 0 {
			continue
		}
		if best = append(best, x); len(best) == cap(best) {
			slices.SortFunc(best, race.Finish.Order)
			best, last = best[:many], new(best[max(0, many-1)])
		}
	}
	slices.SortFunc(best, race.Finish.Order)
	return best[:min(len(best), many)]
}

// tiedMost bounds how many that finished at the same moment are told pair by pair.
const tiedMost = 6

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
			id, bibs := pairID(race.TooClose, a.Bib, b.Bib)
			if told[id] {
				continue
			}
			told[id] = true
			s := race.Suspect{ID: id, Kind: race.TooClose, Weight: race.Look, Bibs: bibs, At: a.FinishAt, Urgency: urgentFirst - n}
			sp := &a.Splits[a.Finish]
			s.Line, s.Split = f.line(sp.Line), sp.ID
			who := fmt.Sprintf("Ranks %d and %d (%s), %s before %s, are", ranks[n], ranks[m], among, a.Bib, b.Bib)
			if ranks[n] == ranks[m] {
				who = fmt.Sprintf("%s and %s share rank %d (%s),", a.Bib, b.Bib, ranks[n], among)
			}
			s.Says = fmt.Sprintf("%s %.3f s apart; the times tell them apart from %.3f s on. The finish judge or the photo decides.", who, d.Seconds(), limit.Seconds())
			s.Proposes = accept(id)
			s.Others = []string{
				fmt.Sprintf("set-time --bib %s --split %s --at %s", arg(b.Bib), arg(b.Splits[b.Finish].ID), f.when(a.FinishAt.Add(-1))),
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
