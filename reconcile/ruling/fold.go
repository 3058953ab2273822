package ruling

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Fold replays the rulings in order of their numbers over plan and lists, none of which it
// changes. A later one wins.
func Fold(p *race.Plan, athletes []race.Athlete, chips []race.Chip, rs []race.Ruling) *Effects {
	f := &Effects{Plan: p, Athletes: athletes, Chips: chips, AssignedSeq: map[string]int{}, Ignored: map[string]int{},
		Adjust: map[string]race.Millis{}, Closed: map[int]int{}, SetTimes: map[BibSplit]TimeRuling{}, UseSystem: map[BibSplit]SystemRuling{},
		Status: map[string]StatusRuling{}, Accepts: map[string]AcceptRuling{}, Undone: Undone(rs), Idle: map[int]string{}, ByBib: map[string][]int{}}
	if len(rs) == 0 {
		return f
	}
	bySeq := func(a, b race.Ruling) int { return a.Seq - b.Seq }
	if !slices.IsSortedFunc(rs, bySeq) {
		rs = slices.Clone(rs)
		slices.SortStableFunc(rs, bySeq)
	}
	r := &replay{fx: f, plan: p}
	r.list(athletes, rs)
	for i := range rs {
		if _, undone := f.Undone[rs[i].Seq]; undone {
			continue
		}
		if why := r.apply(&rs[i]); why != "" {
			f.Idle[rs[i].Seq] = why
		}
	}
	f.Plan = r.plan
	if len(r.assigned) > 0 {
		slices.Reverse(r.assigned)
		f.Chips = append(r.assigned, chips...)
	}
	f.concern(rs, chips)
	return f
}

// Undone tells which rulings don't stand, and by which undo. An undo that is itself undone
// takes nothing back.
func Undone(rs []race.Ruling) map[int]int {
	var undos []*race.Ruling
	for i := range rs {
		if rs[i].Rule == race.Undo {
			undos = append(undos, &rs[i])
		}
	}
	slices.SortStableFunc(undos, func(a, b *race.Ruling) int { return b.Seq - a.Seq })
	out := map[int]int{}
	for _, r := range undos { // an undo speaks of what was before it, so the last is decided first
		_, undone := out[r.Seq]
		if _, already := out[r.UndoneSeq]; !undone && !already && r.UndoneSeq < r.Seq {
			out[r.UndoneSeq] = r.Seq
		}
	}
	return out
}

// replay is a fold on its way.
type replay struct {
	fx       *Effects
	plan     *race.Plan
	own      bool // plan is a copy
	at       map[string]int
	assigned []race.Chip // earliest first
}

// list copies the athletes if a ruling changes one, and finds those that rulings name. Most
// rulings name nobody of tens of thousands.
func (r *replay) list(athletes []race.Athlete, rs []race.Ruling) {
	r.at = map[string]int{}
	for i := range rs {
		switch rs[i].Rule {
		case race.SetWave, race.SetStatus, race.AddAthlete:
			r.at[rs[i].Bib] = -1
		}
	}
	if len(r.at) == 0 {
		return
	}
	r.fx.Athletes = slices.Clone(athletes)
	for i := range athletes {
		if k, ok := r.at[athletes[i].Bib]; ok && k < 0 {
			r.at[athletes[i].Bib] = i
		}
	}
}

// athlete is the one with the bib, nil for none.
func (r *replay) athlete(bib string) *race.Athlete {
	if i, ok := r.at[bib]; ok && i >= 0 {
		return &r.fx.Athletes[i]
	}
	return nil
}

// apply lets one ruling take effect, or says why it has none.
func (r *replay) apply(x *race.Ruling) string {
	switch x.Rule {
	case race.AssignChip:
		return r.assign(x)
	case race.IgnoreChip:
		r.ignore(x)
		return ""
	case race.SwapBibs:
		r.fx.Swaps = append(r.fx.Swaps, [2]string{x.Bib, x.With})
		return ""
	case race.AdjustTime:
		d, err := Length(x.Shift)
		if err != nil {
			return err.Error()
		}
		r.fx.Adjust[x.Bib] += d
		return ""
	case race.CloseCourse:
		c := r.plan.CourseIndex(x.Course)
		if c < 0 {
			return noCourse(x.Course)
		}
		r.fx.Closed[c] = x.Seq
		return ""
	case race.Accept:
		r.fx.Accepts[x.Suspect] = AcceptRuling{x.Seq, x.Evidence}
		return ""
	case race.Undo:
		return ""
	case race.SetGun, race.SetWave, race.AddAthlete, race.SetStatus:
		return r.applyList(x)
	case race.VoidReads, race.Witness, race.VoidPassing, race.SetClock:
		return r.applyLine(x)
	case race.SetTime, race.UseSystem:
		return r.applySplit(x)
	}
	return "there is no kind of ruling " + race.Quote(x.Rule)
}

// assign gives a tag to a bib, and takes it out of those that are nobody's.
func (r *replay) assign(x *race.Ruling) string {
	c := race.Chip{Tag: race.CanonicalTag(x.Tag), Bib: x.Bib, From: race.NoInstant, To: race.NoInstant}
	if err := r.moments(x.From, &c.From, x.To, &c.To); err != "" {
		return err
	}
	r.assigned = append(r.assigned, c)
	r.fx.AssignedSeq[c.Tag] = x.Seq
	delete(r.fx.Ignored, c.Tag)
	return ""
}

// ignore makes tags nobody's: whom they were given to before doesn't count any more.
func (r *replay) ignore(x *race.Ruling) {
	for _, t := range tags(x) {
		t = race.CanonicalTag(t)
		r.fx.Ignored[t] = x.Seq
		delete(r.fx.AssignedSeq, t)
		r.assigned = slices.DeleteFunc(r.assigned, func(c race.Chip) bool { return c.Tag == t })
	}
}

// applyList are the rulings that change plan and athletes.
func (r *replay) applyList(x *race.Ruling) string {
	w, a := r.plan.WaveIndex(x.Wave), r.athlete(x.Bib)
	if x.Rule != race.SetStatus && w < 0 {
		return noWave(x.Wave)
	}
	switch x.Rule {
	case race.SetGun:
		t, err := Moment(r.plan, x.Time)
		if err != nil {
			return err.Error()
		}
		r.ownPlan()
		r.plan.Waves[w].Gun = t
	case race.AddAthlete:
		if a != nil {
			return "bib " + x.Bib + " is listed by now"
		}
		r.at[x.Bib] = len(r.fx.Athletes)
		r.fx.Athletes = append(r.fx.Athletes, race.Athlete{Bib: x.Bib, Name: x.Name, Sex: x.Sex, Birth: x.Birth, Category: x.Category, Team: x.Team, Wave: w, Start: race.NoInstant})
	case race.SetWave:
		if a == nil {
			return noBib(x.Bib)
		}
		if a.Wave != w && r.plan.Waves[w].Gun.Known() {
			a.Start = race.NoInstant // their own gun was in the wave they did not run with
		}
		a.Wave = w
	case race.SetStatus:
		s := StatusRuling{Status: x.Status, Made: made(x), Seq: x.Seq}
		if s.Status == race.NoStatus {
			s.Status = ""
		}
		r.fx.Status[x.Bib] = s
		if a != nil {
			a.Status = s.Status
		}
	}
	return ""
}

// applyLine are the rulings on what was read at a line, and on its clocks.
func (r *replay) applyLine(x *race.Ruling) string {
	line := r.plan.LineIndex(x.Line)
	if line < 0 {
		return noLine(x.Line)
	}
	sys, one := race.SystemOf(x.System)
	if !one && x.System != "" {
		return noSystem(x.System)
	}
	var at race.Instant
	from, to := race.NoInstant, race.NoInstant
	if x.Rule == race.Witness || x.Rule == race.VoidPassing {
		t, err := Moment(r.plan, x.Time)
		if err != nil {
			return err.Error()
		}
		at = t
	} else if err := r.moments(x.From, &from, x.To, &to); err != "" {
		return err
	}
	switch x.Rule {
	case race.Witness:
		r.fx.Witnesses = append(r.fx.Witnesses, WitnessRead{x.Bib, line, at, x.Seq, x.Evidence})
	case race.VoidPassing:
		r.fx.VoidPassings = append(r.fx.VoidPassings, VoidPassing{x.Bib, line, at, x.Seq})
	case race.VoidReads:
		if !from.Known() || !to.Known() {
			return "it lacks from or to"
		}
		r.fx.VoidReads = append(r.fx.VoidReads, VoidReads{line, sys, !one, from, to, x.Seq})
	case race.SetClock:
		c := ClockRuling{Line: line, System: sys, From: from, Stepped: x.Stepped, Right: x.Right, Seq: x.Seq}
		if c.Right == "" {
			c.Right = "before"
		}
		if c.Stepped == "" {
			d, err := Length(x.Offset)
			if err != nil {
				return err.Error()
			}
			c.Offset = d
			if sys == race.Main && !from.Known() {
				r.setMain(line, d)
				return ""
			}
		}
		r.fx.Clocks = append(r.fx.Clocks, c)
	}
	return ""
}

// setMain takes the place of what the plan says of main's clock at a line, and of all that was
// ruled of it before. The offsets of others there are told against main's clock, and go with it.
func (r *replay) setMain(line int, offset race.Millis) {
	r.ownPlan()
	for _, s := range r.plan.Lines[line].Logs {
		if r.plan.Logs[s].System == race.Main {
			r.plan.Logs[s].Offset = race.Offset{Fixed: offset}
		}
	}
	r.fx.Clocks = slices.DeleteFunc(r.fx.Clocks, func(c ClockRuling) bool { return c.Line == line && c.System == race.Main && c.Stepped == "" })
}

// ownPlan makes the plan one that may be changed.
func (r *replay) ownPlan() {
	if r.own {
		return
	}
	p := *r.plan
	p.Waves, p.Logs = slices.Clone(p.Waves), slices.Clone(p.Logs)
	r.plan, r.own = &p, true
}

// applySplit are the rulings on one split of one bib: the last one decides, of either kind.
func (r *replay) applySplit(x *race.Ruling) string {
	k := BibSplit{x.Bib, x.Split}
	if x.Rule == race.UseSystem {
		sys, ok := race.SystemOf(x.System)
		if !ok {
			return noSystem(x.System)
		}
		delete(r.fx.SetTimes, k)
		r.fx.UseSystem[k] = SystemRuling{sys, x.Seq}
		return ""
	}
	t, err := Moment(r.plan, x.Time)
	if err != nil {
		return err.Error()
	}
	pm := race.Millis(0)
	if x.PlusMinus != "" {
		if pm, err = Length(x.PlusMinus); err != nil {
			return err.Error()
		}
	}
	delete(r.fx.UseSystem, k)
	r.fx.SetTimes[k] = TimeRuling{t, pm, x.Seq, x.Evidence}
	return ""
}

// moments reads from and to where they are given.
func (r *replay) moments(from string, f *race.Instant, to string, t *race.Instant) string {
	for _, m := range []struct {
		text string
		into *race.Instant
	}{{from, f}, {to, t}} {
		if m.text == "" {
			continue
		}
		at, err := Moment(r.plan, m.text)
		if err != nil {
			return err.Error()
		}
		*m.into = at
	}
	return ""
}

// concern lists whom each ruling is about, undone ones too: the bibs that it names, the bib
// whose chip it is about, those of the suspect that it accepts, those of what it takes back.
func (f *Effects) concern(rs []race.Ruling, chips []race.Chip) {
	tagged := map[string][]string{} // of tags that rulings take from somebody
	for i := range rs {
		if rs[i].Rule == race.AssignChip || rs[i].Rule == race.IgnoreChip {
			for _, t := range tags(&rs[i]) {
				tagged[race.CanonicalTag(t)] = nil
			}
		}
	}
	if len(tagged) > 0 {
		for _, c := range chips {
			if bibs, ok := tagged[c.Tag]; ok {
				tagged[c.Tag] = append(bibs, c.Bib)
			}
		}
	}
	of := map[int][]string{}
	for i := range rs {
		x := &rs[i]
		bibs := []string{x.Bib, x.With}
		switch x.Rule {
		case race.AssignChip, race.IgnoreChip:
			for _, t := range tags(x) {
				bibs = append(bibs, tagged[race.CanonicalTag(t)]...)
			}
		case race.Accept:
			bibs = append(bibs, suspectBibs(x.Suspect, of)...)
		case race.Undo:
			bibs = append(bibs, of[x.UndoneSeq]...)
		}
		for _, b := range bibs {
			if b != "" && !slices.Contains(of[x.Seq], b) {
				of[x.Seq] = append(of[x.Seq], b)
				f.ByBib[b] = append(f.ByBib[b], x.Seq)
			}
		}
	}
}

// suspectBibs reads whom a suspect is about from its id; of tells it of earlier rulings.
func suspectBibs(id string, of map[int][]string) []string {
	kind, rest, _ := strings.Cut(id, ":")
	switch race.SuspectKindOf(kind).IDOf {
	case race.OfBib:
		return []string{rest}
	case race.OfBibAt:
		bib, _, _ := strings.Cut(rest, ":")
		return []string{bib}
	case race.OfPair:
		return strings.Split(rest, "+")
	case race.OfRuling:
		return of[whole(rest)]
	}
	return nil
}

// tags are all that a ruling names.
func tags(x *race.Ruling) []string {
	if x.Tag == "" {
		return x.Tags
	}
	return append([]string{x.Tag}, x.Tags...)
}
