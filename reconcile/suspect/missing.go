package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// missingSplit: a later split is there and this one isn't. A required one, or a lap, holds.
func missingSplit(f *field) []race.Suspect {
	silent := f.silentSplits()
	another := !f.news.sameWord || f.news.learnt() || !slices.Equal(f.kept.silent, silent)
	f.kept.silent = silent
	return f.kept.missing.again(f, another, f.news.changed, func(i int, add func(race.Suspect)) {
		if f.hints[i]&hasGap == 0 {
			return
		}
		r := f.st.Results[i]
		if r.Status == race.DNS || f.otherCourse[i] {
			return
		}
		last := f.last(i)
		for k := 0; k < last; k++ {
			sp := &r.Splits[k]
			if f.times[i][k].Known() || sp.At == 0 || f.moved[[2]int{r.Course, k}] || !sp.Required && (sp.Lap == 0 && f.silent(r.Course, k) || f.steppedFor(r, sp.Line)) ||
				f.hints[i]&hasExtra != 0 && f.leftOut(r, sp.Line) && f.follows(r.Course, sp.Line) {
				continue
			}
			at := f.beforeGun(i, sp.Line)
			if at.Known() && !sp.Required {
				continue // the early start tells it
			}
			s := f.missing(i, k)
			switch {
			case f.steppedFor(r, sp.Line):
				s.Says = fmt.Sprintf("%s was read at %s, at times that do not fit: main's clock there was set in mid-race, and tells none that counts until that is ruled.", r.Bib, sp.ID)
			case at.Known():
				s.Says = fmt.Sprintf("%s was read at %s at %s, before its gun, which gives no time there.", r.Bib, sp.ID, f.clock(at))
			}
			add(s)
		}
	})
}

// silentSplits are the splits of all courses, in order, that are silent.
func (f *field) silentSplits() (all []bool) {
	for c := range f.courses {
		for k := range f.courses[c].splits {
			all = append(all, f.silent(c, k))
		}
	}
	return all
}

// leftOut tells whether an athlete was read at a line, and that fills no split.
func (f *field) leftOut(r *race.Result, line int) bool {
	return slices.ContainsFunc(r.Passings, func(p race.Passing) bool { return p.Line == line && p.Split < 0 && p.Fate == race.Extra })
}

// beforeGun is when somebody who set out early was read at a line before their gun; NoInstant for
// everybody else.
func (f *field) beforeGun(i, line int) race.Instant {
	if f.hints[i]&hasLoose == 0 {
		return race.NoInstant
	}
	began := f.beganEarly(i)
	for _, p := range f.st.Results[i].Passings {
		if began.Known() && p.Line == line && p.Fate == race.BeforeGun && p.At > began {
			return p.At
		}
	}
	return race.NoInstant
}

// steppedFor tells whether what a line read of an athlete was at times that its main, set in
// mid-race, told: that is one case, not one of each of them.
func (f *field) steppedFor(r *race.Result, line int) bool {
	return slices.ContainsFunc(r.Passings, func(p race.Passing) bool { return p.Line == line }) && f.mainStepped(line)
}

// silent tells whether nobody on the course was read at a split: then the line says nothing
// of any one athlete. A line of laps reads other ones: each lacks the lap.
func (f *field) silent(course, k int) bool {
	at := f.reaches().at[course][k]
	return at.filled == 0 && at.past >= 3
}

func (f *field) missing(i, k int) race.Suspect {
	r := f.st.Results[i]
	sp := &r.Splits[k]
	weight := race.Look
	if (sp.Required || sp.Lap > 0) && !uncounted(r) {
		weight = race.Hold
	}
	s := suspect(race.MissingSplit, weight, r.Bib, sp.ID)
	a, b := k-1, k+1
	for a >= 0 && !f.times[i][a].Known() {
		a--
	}
	for !f.times[i][b].Known() {
		b++
	}
	s.Line, s.Split = f.line(sp.Line), sp.ID
	s.At = f.times[i][b]
	before, from, at := "the gun", r.Gun, 0.0
	if a >= 0 {
		before, from, at = r.Splits[a].ID, f.times[i][a], r.Splits[a].At
	} else if began := f.beganEarly(i); began.Known() {
		before, from = "their early start", began
	}
	s.Says = fmt.Sprintf("No system read %s at %s; read at %s, %s.", r.Bib, sp.ID, r.Splits[b].ID, f.clock(f.times[i][b]))
	if d := f.times[i][b].Sub(from); d.Known() && d > 0 && r.Splits[b].At > at {
		v := (r.Splits[b].At - at) / d.Seconds()
		s.Says = fmt.Sprintf("No system read %s at %s; from %s to %s (%.0f m) took %s, %.2f m/s%s.",
			r.Bib, sp.ID, before, r.Splits[b].ID, r.Splits[b].At-at, short(d), v, f.against(i, a, b, d.Seconds()))
	}
	s.Evidence = fmt.Sprintf("%s..%s %s..%s", before, r.Splits[b].ID, rounded(from), rounded(f.times[i][b]))
	s.Proposes, s.Others, s.Strong = accept(s.ID), []string{setStatus(r.Bib, race.DSQ)}, true
	switch took := f.times[i][b].Sub(from); {
	case f.tooFast(r, a, b, took):
		s.Proposes, s.Others, s.Strong = setStatus(r.Bib, race.DSQ), []string{accept(s.ID)}, false
	case sp.Lap == 0 && f.tooSoon(i, a, b, took.Seconds()):
		s.Proposes, s.Others, s.Strong = setStatus(r.Bib, race.DSQ), []string{setStatus(r.Bib, race.DNF), accept(s.ID)}, false
		if b == len(r.Splits)-1 {
			s.Proposes, s.Others[0] = s.Others[0], s.Proposes // more likely gone home past the finish
		}
	}
	if s.Proposes != accept(s.ID) {
		takeBackFirst(&s, r, a, b)
	}
	if sp.Lap > 0 && r.Splits[b].Line == sp.Line {
		s.Others = append([]string{countAs(r, sp, f.when(s.At))}, s.Others...)
	}
	if w, ok := f.exchanged[i]; ok && f.st.Results[w].Course != r.Course {
		s.Others = append([]string{s.Proposes}, s.Others...)
		s.Proposes, s.Strong = swapBibs(r.Bib, f.st.Results[w].Bib), false
	}
	return s
}

// countAs says which lap a crossing of the line was: there was none in between that nobody read.
func countAs(r *race.Result, lap *race.Split, at string) string {
	return fmt.Sprintf("set-time --bib %s --split %s --at %s", arg(r.Bib), arg(lap.ID), at)
}

const (
	// soonSpreads below one's own level nobody comes over a stretch in a field of thousands.
	soonSpreads = 5
	// soonShare of the time is the most that is too soon: who left out less may have run well.
	soonShare = 0.6
)

// tooSoon tells whether a stretch not read between took so little of what the athlete's own
// level tells that it wasn't gone, however possible it is for others: cut, or driven.
func (f *field) tooSoon(i, a, b int, took float64) bool {
	c := &f.courses[f.st.Results[i].Course]
	want := c.took(f.level[i], a, b)
	if !(want > 0) || took >= soonShare*want {
		return false
	}
	sd := ownScatter
	for k := a + 1; k <= b; k++ {
		if c.stretches[k] < groupEnough {
			return false // the field can't tell
		}
		sd = math.Max(sd, c.scale[k])
	}
	return math.Log(took/want) < -soonSpreads*sd
}

// against says how a stretch compares with what the athlete's own level predicts.
func (f *field) against(i, a, b int, took float64) string {
	r := f.st.Results[i]
	want := f.courses[r.Course].took(f.level[i], a, b)
	if !(want > 0) {
		return ""
	}
	return fmt.Sprintf(", %.0f %% of the time their own level tells", 100*took/want)
}

// missingStart: no start passing, so net time stays empty. Where net time ranks it holds.
func missingStart(f *field) []race.Suspect {
	f.unstarted = f.kept.missingStart.again(f, !f.news.sameWord || f.news.learnt(), f.news.changed, func(i int, add func(race.Suspect)) {
		if f.hints[i]&hasGap == 0 {
			return
		}
		r := f.st.Results[i]
		if startSplit(r.Splits) < 0 || f.times[i][0].Known() || f.last(i) < 1 || f.otherCourse[i] || f.crossedEarly(i).Known() {
			return
		}
		weight := race.Look
		if f.plan.Courses[r.Course].Official.Net && !uncounted(r) {
			weight = race.Hold
		}
		if weight == race.Look && f.moved[[2]int{r.Course, 0}] {
			return // the line tells it
		}
		s := suspect(race.MissingStart, weight, r.Bib)
		s.Line, s.Split = f.line(r.Splits[0].Line), r.Splits[0].ID
		last := f.last(i)
		s.At = f.times[i][last]
		s.Says = fmt.Sprintf("No system read %s at the start; read up to %s. There is no net time; gun time stands.", r.Bib, r.Splits[last].ID)
		s.Evidence = "no start"
		s.Proposes, s.Strong = accept(s.ID), true
		add(s)
	})
	return f.unstarted
}

// short writes a length as h:mm:ss.
func short(d race.Millis) string {
	s := d.String()
	if len(s) > 4 {
		return s[:len(s)-4]
	}
	return s
}

// rounded is an instant as evidence keeps it: to five seconds, so that a clock model that
// settles by milliseconds seldom opens what was looked at. It does where the instant lies within
// those of a bound between two such stretches.
func rounded(t race.Instant) string {
	if !t.Known() {
		return "-"
	}
	return fmt.Sprint((int64(t) + 2500) / 5000)
}
