package suspect

import (
	"fmt"
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// maybeMissed of one's laps about it, or more: a long lap may be two, the one between missed.
const maybeMissed = 1.5

// doubtfulLap: on laps without end a long one was counted once, and was nearly as likely
// several of which the systems missed some. The count of laps hangs on it; where it went the
// other way, missing-split tells.
func doubtfulLap(f *field) []race.Suspect {
	var found []race.Suspect
	for c := range f.courses {
		if !f.plan.Courses[c].Open {
			continue
		}
		for _, i := range f.courses[c].results {
			found = append(found, f.doubtfulLaps(i)...)
		}
	}
	return found
}

// doubtfulLaps are those of one athlete.
func (f *field) doubtfulLaps(i int) (found []race.Suspect) {
	r := f.st.Results[i]
	if uncounted(r) || f.otherCourse[i] {
		return nil
	}
	for k := range r.Filled {
		if n := r.Filled[k]; n < 0 || !r.Passings[n].Doubtful || r.Passings[n].Ruling > 0 {
			continue
		}
		if k > 0 && (r.Filled[k-1] < 0 || r.Passings[r.Filled[k-1]].Doubtful) {
			continue // what follows from the first
		}
		took := lapTime(f, i, k)
		usual := robust.Median(lapsAbout(f, i, k))
		if !(usual > 0) || !(took >= maybeMissed*usual) {
			continue
		}
		sp := &r.Splits[k]
		s := suspect(race.UnlikelyPace, race.Look, r.Bib, sp.ID)
		s.Line, s.Split, s.At = f.line(sp.Line), sp.ID, f.times[i][k]
		s.Says = fmt.Sprintf("%s took %s for %s, %.1f times their laps about it: a rest, as counted, or laps that no system read.",
			r.Bib, short(race.Millis(1000*took)), sp.ID, took/usual)
		s.Evidence = fmt.Sprintf("%s at %s", sp.ID, rounded(f.times[i][k]))
		s.Proposes = accept(s.ID)
		// So many laps as it was long, the last of them now: the others no system read.
		lap := f.plan.Courses[r.Course].Lap(sp, sp.Lap+max(1, int(math.Round(took/usual))-1))
		s.Others = []string{countAs(r, &lap, f.when(s.At))}
		found = append(found, s)
	}
	return found
}

// lapTime is how many seconds the stretch that ends at split k took, NaN where an end is
// missing.
func lapTime(f *field, i, k int) float64 {
	from := f.st.Results[i].Gun
	if k > 0 {
		from = f.times[i][k-1]
	}
	if d := f.times[i][k].Sub(from); d.Known() && d > 0 {
		return d.Seconds()
	}
	return math.NaN()
}

// lapsAbout are one's lap times about split k.
func lapsAbout(f *field, i, k int) []float64 {
	const about = 5
	var out []float64
	for n := max(0, k-about); n <= min(len(f.times[i])-1, k+about); n++ {
		if x := lapTime(f, i, n); n != k && x == x {
			out = append(out, x)
		}
	}
	return out
}
