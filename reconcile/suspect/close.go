package suspect

import (
	"fmt"
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
		all := f.finishers(c)
		found = append(found, f.closeAmong(c, all, "overall", told)...)
		for _, sex := range sexes(f, all) {
			var some []int
			for _, i := range all {
				if strings.EqualFold(f.st.Results[i].Sex, sex) {
					some = append(some, i)
				}
			}
			if len(some) < len(all) {
				found = append(found, f.closeAmong(c, some, "sex "+sex, told)...)
			}
		}
	}
	return found
}

// sexes that the list gives, in order, compared without case.
func sexes(f *field, all []int) []string {
	var out []string
	for _, i := range all {
		if s := strings.ToLower(f.st.Results[i].Sex); s != "" {
			out = append(out, s)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// finishers are those of a course who will have a rank, in order of it.
func (f *field) finishers(c int) []int {
	course := &f.plan.Courses[c]
	var all []int
	for _, i := range f.courses[c].results {
		r := &f.st.Results[i]
		if r.Finish >= 0 && !out(r) && f.ranks(c, i).Known() {
			all = append(all, i)
		}
	}
	byLaps := course.TimeLimit > 0 || course.Flagged || course.Open
	slices.SortStableFunc(all, func(a, b int) int {
		x, y := &f.st.Results[a], &f.st.Results[b]
		if byLaps && x.Laps != y.Laps {
			return y.Laps - x.Laps
		}
		switch s, t := f.ranks(c, a), f.ranks(c, b); {
		case s < t:
			return -1
		case s > t:
			return 1
		}
		return 0
	})
	return all
}

// ranks is the unrounded time that ranks an athlete.
func (f *field) ranks(c, i int) race.Millis {
	r := &f.st.Results[i]
	t := r.GunTime
	if f.plan.Courses[c].Official.Net && r.NetTime.Known() {
		t = r.NetTime
	}
	if !t.Known() {
		return t
	}
	return t + r.Adjust
}

// tiedMost bounds how many that finished at the same moment are told pair by pair.
const tiedMost = 6

func (f *field) closeAmong(c int, order []int, among string, told map[string]bool) []race.Suspect {
	course := &f.plan.Courses[c]
	byLaps := course.TimeLimit > 0 || course.Flagged || course.Open
	var found []race.Suspect
	for n := 0; n < len(order) && n < course.Prizes; n++ {
		for m := n + 1; m < len(order) && m <= n+tiedMost; m++ {
			a, b := &f.st.Results[order[n]], &f.st.Results[order[m]]
			d := f.ranks(c, order[m]) - f.ranks(c, order[n])
			if byLaps && a.Laps != b.Laps || d > 0 && m > n+1 {
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
			s.Says = fmt.Sprintf("Ranks %d and %d (%s), %s before %s, are %.3f s apart; the times tell them apart from %.3f s on. The finish judge or the photo decides.",
				n+1, m+1, among, a.Bib, b.Bib, d.Seconds(), limit.Seconds())
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
