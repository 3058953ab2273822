package suspect

import (
	"fmt"
	"math"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// least is the shortest time, in seconds, that anybody can need from split a to split b
// (a = -1: from the gun), and what says so: the fastest that the plan allows, the sport's
// ceiling over that length, or the chips' top speed.
func (f *field) least(splits []race.Split, a, b int) (seconds float64, because string) {
	from := 0.0
	if a >= 0 {
		from = splits[a].At
	}
	var bySport, byPlan float64
	planned := false
	for k := a + 1; k <= b; {
		to := k // one sport's stretches in a row: a ceiling falls with length
		for to+1 <= b && splits[to+1].Sport == splits[k].Sport {
			to++
		}
		start := 0.0
		if k > 0 {
			start = splits[k-1].At
		}
		metres := splits[to].At - start
		v := pace.Ceiling(splits[k].Sport, metres)
		if v > 0 && !math.IsInf(v, 1) && metres > 0 {
			bySport += metres / v
		}
		for j := k; j <= to; j++ {
			at := 0.0
			if j > 0 {
				at = splits[j-1].At
			}
			own := 0.0
			if v > 0 && !math.IsInf(v, 1) {
				own = (splits[j].At - at) / v
			}
			if splits[j].Fastest > 0 {
				planned = true
				own = math.Max(own, splits[j].Fastest.Seconds())
			}
			byPlan += own
		}
		k = to + 1
	}
	seconds, because = bySport, "the fastest known pace over that length"
	if planned && byPlan > seconds {
		seconds, because = byPlan, "the fastest the plan allows"
	}
	if v := f.plan.MaxSpeed; v > 0 && (splits[b].At-from)/v > seconds {
		seconds, because = (splits[b].At-from)/v, "the top speed of the plan's chips"
	}
	return seconds, because
}

// tableSplits is how many splits a course may have for a table of what anybody needs: as many as
// the longest story is looked for in.
const tableSplits = mostCells / mostCrossings

func (f *field) leastTable(splits []race.Split) [][]float64 {
	n := len(splits)
	if n > tableSplits {
		return nil
	}
	t := make([][]float64, n)
	for a := -1; a < n-1; a++ {
		t[a+1] = make([]float64, n)
		for b := a + 1; b < n; b++ {
			t[a+1][b], _ = f.least(splits, a, b)
		}
	}
	return t
}

// need is least of a course.
func (f *field) need(course, a, b int) float64 {
	x := &f.courses[course]
	if x.least != nil && b < len(x.splits) {
		return x.least[a+1][b]
	}
	s, _ := f.least(f.splitsOf(course), a, b)
	return s
}

// splitsOf are a course's splits, written out as far as anybody came.
func (f *field) splitsOf(course int) []race.Split {
	if x := &f.courses[course]; len(x.splits) > len(f.plan.Courses[course].Splits) {
		return x.splits
	}
	return f.plan.Courses[course].Splits
}

// tooFast tells whether nobody can have come from split a to split b in that time.
func (f *field) tooFast(r *race.Result, a, b int, took race.Millis) bool {
	need := f.need(r.Course, a, b)
	return took.Known() && took.Seconds() < need && took.Seconds()+f.slack(r, a, b) < need
}

// slack is how much longer than it looks a stretch may have taken, in seconds: both times'
// intervals.
func (f *field) slack(r *race.Result, a, b int) float64 {
	s := 0.0
	for _, k := range []int{a, b} {
		if k >= 0 && r.Filled[k] >= 0 {
			if pm := r.Passings[r.Filled[k]].PlusMinus; pm.Known() {
				s += pm.Seconds()
			}
		}
	}
	return s
}

// pairs calls do for each two neighbouring filled splits of an athlete, from the gun (or
// the early start) where no start passing is there.
func (f *field) pairs(i int, do func(a, b int, took race.Millis)) {
	r := f.st.Results[i]
	prev, from := -1, r.Gun
	if from.Known() {
		from = from.Add(-f.early(r.Wave))
	}
	if early := f.beganEarly(i); early.Known() {
		from = early
	}
	for k, t := range f.times[i] {
		if !t.Known() {
			continue
		}
		if from.Known() && (prev >= 0 || r.Splits[k].At > 0) {
			do(prev, k, t.Sub(from))
		}
		prev, from = k, t
	}
}

// fast calls do for those stretches of an athlete, as pairs has them, that nobody can have
// run so fast.
func (f *field) fast(i int, do func(a, b int, took race.Millis)) {
	if f.hints[i]&isFast == 0 {
		return // one who began before the gun was slower still
	}
	r := f.st.Results[i]
	f.pairs(i, func(a, b int, took race.Millis) {
		if f.tooFast(r, a, b, took) {
			do(a, b, took)
		}
	})
}

// impossiblePace: faster over a stretch than anybody can be. It holds.
func impossiblePace(f *field) []race.Suspect {
	var found []race.Suspect
	for _, x := range f.kept.fast.again(f, f.news.learnt() || !f.word.upToSwaps(&f.before), f.news.changed, f.impossibleOf) {
		if x.flew >= 0 {
			f.flew[x.flew] = true
		}
		found = append(found, x.Suspect)
	}
	return found
}

// tooQuick is a stretch that somebody can't have run so fast.
type tooQuick struct {
	race.Suspect
	flew int // whose finish it was, and that was left out of the splits; -1: it wasn't
}

// impossibleOf are an athlete's.
func (f *field) impossibleOf(i int, add func(tooQuick)) {
	if f.hints[i]&(isFast|hasExtra) == 0 {
		return
	}
	r := f.st.Results[i]
	if r.Course < 0 || f.otherCourse[i] || r.Wave >= 0 && f.doubtful[r.Wave] && startSplit(r.Splits) < 0 {
		return
	}
	f.fast(i, func(a, b int, took race.Millis) {
		if f.lineOff[[2]int{r.Course, b}] || a >= 0 && f.lineOff[[2]int{r.Course, a}] {
			return
		}
		add(tooQuick{f.impossible(i, a, b, took), -1})
	})
	if s, ok := f.flown(i); ok {
		add(tooQuick{s, i})
	}
}

// flown is a finish so impossible that it was left out of the splits: read at the finish
// line, never between, and faster there than anybody.
func (f *field) flown(i int) (race.Suspect, bool) {
	r := f.st.Results[i]
	end, last := len(f.times[i])-1, f.last(i)
	if last < 0 || last >= end || f.lineOff[[2]int{r.Course, end}] || f.lineOff[[2]int{r.Course, last}] {
		return race.Suspect{}, false
	}
	for k := range r.Splits[:end] {
		if r.Splits[k].Line == r.Splits[end].Line {
			return race.Suspect{}, false // a lap or a start line is passed for other reasons
		}
	}
	for n := range r.Passings {
		p := &r.Passings[n]
		took := p.At.Sub(f.times[i][last])
		if p.Line != r.Splits[end].Line || p.Fate != race.Extra || took <= 0 || !f.tooFast(r, last, end, took) {
			continue
		}
		s := f.impossible(i, last, end, took)
		s.At, s.Evidence = p.At, r.Splits[last].ID+" "+mark(p)
		s.Others[len(s.Others)-2] = voidPassing(r.Bib, f.line(p.Line), f.when(p.At))
		return s, true
	}
	return race.Suspect{}, false
}

func (f *field) impossible(i, a, b int, took race.Millis) race.Suspect {
	r := f.st.Results[i]
	sp := &r.Splits[b]
	s := suspect(race.ImpossiblePace, holds(r), r.Bib, sp.ID)
	s.Line, s.Split, s.At = f.line(sp.Line), sp.ID, f.times[i][b]
	from, at, name := "-", 0.0, "the gun"
	if a >= 0 {
		from, at, name = f.mark(i, f.times[i][a]), r.Splits[a].At, r.Splits[a].ID
	}
	need, because := f.least(r.Splits, a, b)
	metres := sp.At - at
	s.Says = fmt.Sprintf("%s took %s from %s to %s, %.0f m: %.2f m/s; %s is %s (%.2f m/s).", r.Bib, short(took), name, sp.ID, metres,
		metres/math.Max(0.001, took.Seconds()), because, short(race.Millis(need*1000)), metres/need)
	if took <= 0 { // that has no speed
		s.Says = fmt.Sprintf("%s was at %s at %s, which is not after %s at %s.", r.Bib, sp.ID, f.dayAndClock(r, s.At), name, f.dayAndClock(r, s.At.Add(-took)))
	}
	if b-a > 1 {
		s.Says = s.Says[:len(s.Says)-1] + "; not read between, which speaks for a cut course."
	}
	s.Evidence = name + " " + from + " " + f.mark(i, f.times[i][b])
	s.Proposes = setStatus(r.Bib, race.DSQ)
	s.Others = []string{
		voidPassing(r.Bib, f.line(sp.Line), f.when(f.times[i][b])),
		accept(s.ID),
	}
	s.Strong = b-a > 1 && (a >= 0 || r.Splits[0].At > 0)
	if w, ok := f.exchanged[i]; ok {
		swap := swapBibs(r.Bib, f.st.Results[w].Bib)
		if a < 0 { // they flew from another's gun
			swap, s.Proposes, s.Strong = s.Proposes, swap, false
		}
		s.Others = append([]string{swap}, s.Others...)
	}
	takeBackFirst(&s, r, a, b)
	return s
}

// takeBackFirst proposes to take back the ruling that tells when somebody was at a split, if one
// does: a slip of who told a time is likelier than that they flew, or cut the course.
func takeBackFirst(s *race.Suspect, r *race.Result, a, b int) {
	for _, k := range []int{b, a} {
		if k < 0 || r.Filled[k] < 0 {
			continue
		}
		p := &r.Passings[r.Filled[k]]
		seq := 0
		if p.From == race.FromRuling {
			seq = p.Ruling
		} else if eye := p.Bursts[race.Hand]; p.From == race.FromHand && eye != nil {
			seq = int(eye.Witness)
		}
		if seq > 0 {
			s.Others = append([]string{s.Proposes}, s.Others...)
			s.Proposes, s.Strong = fmt.Sprintf("undo --seq %d", seq), false
			return
		}
	}
}
