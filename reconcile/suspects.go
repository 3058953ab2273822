package reconcile

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/passing"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
	"twinmat/reconcile/suspect"
)

// suspects hands the state to those who look for what a person must see.
func (r *run) suspects(st *race.State) {
	in := &suspect.Input{State: st, Each: func(n int, f func(int)) { r.each(1, n, f) }, Chips: r.fx.Chips,
		Asked: r.told.asked, Many: r.manyTimes(), Same: r.told.same, Changed: r.told.changed, Grown: r.again}
	if r.mem != nil {
		in.Memory = &r.mem.suspects
	}
	for _, i := range r.who.disordered.some {
		if r.told.place[i] >= 0 {
			in.OutOfOrder = append(in.OutOfOrder, r.ents[i].athlete.Bib)
		}
	}
	in.Seen = r.seenApart()
	r.clockSuspects(in)
	in.Adrift = r.adrift(st)
	for _, v := range r.fx.VoidReads {
		in.Voided = append(in.Voided, suspect.Voided{Line: v.Line, System: v.System, All: v.All, From: v.From, To: v.To})
	}
	accepts := r.fx.Accepts // a search is remembered: it keeps these, not the whole run
	in.Accepted = func(id string) (string, bool) {
		a, ok := accepts[id]
		return a.Evidence, ok
	}
	if r.mem == nil { // nobody asks for them any more: a search needs their room
		r.ents, r.strays, r.byBib = nil, nil, nil
	}
	search := suspect.Begin(in)
	for _, m := range search.MissedByAll() {
		for i := range st.Systems {
			if st.Systems[i].Line == m.Line {
				st.Systems[i].MissedByAll, st.Systems[i].MissedSays = m.Estimate, m.Says
			}
		}
	}
	st.Suspects = search.Find()
	r.withoutStart(st, search.Unstarted())
	suspect.Order(in, st.Suspects)
}

// unstarted is a result, and the same without a start passing.
type unstarted struct{ of, without *race.Result }

// withoutStart leaves the net time of those empty whose only crossings of the start were
// warming up: their start passing is missing.
func (r *run) withoutStart(st *race.State, some []race.Suspect) {
	var was map[int]unstarted
	if r.mem != nil {
		was = r.mem.unstarted
	}
	now := map[int]unstarted{}
	for i := range some {
		k := st.ByBib[some[i].Bibs[0]]
		x := st.Results[k]
		if !x.StartAt.Known() {
			continue
		}
		u, ok := was[k]
		if !ok || u.of != x {
			y := *x
			y.StartAt = race.NoInstant
			r.timesOf(&r.plan.Courses[y.Course], &y)
			u = unstarted{x, &y}
		}
		now[k], st.Results[k] = u, u.without
	}
	if r.mem != nil {
		r.mem.unstarted = now
	}
}

// seenApart is what each chip did by itself, per result, of those who have several; nil: nobody has.
func (r *run) seenApart() [][]suspect.TagSeen {
	var seen [][]suspect.TagSeen
	of := r.who.several.some
	switch {
	case r.mem != nil && r.told.same && r.onlyFresh() && r.mem.seen != nil:
		seen, of = r.mem.seen, r.fresh
	case len(of) > 0:
		seen = make([][]suspect.TagSeen, len(r.told.results))
	}
	for _, i := range of {
		e, k := &r.ents[i], r.told.place[i]
		if k < 0 {
			continue
		}
		if seen[k] = nil; !r.who.several.has[i] {
			continue
		}
		if !(r.again && r.fineCalm && e.stands) {
			e.apart = r.seen(e)
		}
		seen[k] = e.apart
	}
	if r.mem != nil {
		r.mem.seen = seen
	}
	return seen
}

// seen is what each of a bib's chips did by itself.
func (r *run) seen(e *entrant) []suspect.TagSeen {
	var out []suspect.TagSeen
	for _, tag := range e.tags {
		t := suspect.TagSeen{Tag: tag}
		for _, x := range e.recs {
			if r.tagOf(x) != tag || r.src[x.source].system == race.Hand {
				continue
			}
			src := &r.src[x.source]
			l := &r.plan.Lines[src.line]
			for _, b := range passing.Bursts(nil, []passing.Own{{Tag: tag, Reads: r.readsOf(x)}}, passing.Rule{Source: int(x.source), Window: l.Window, Cut: race.NoInstant}) {
				t.Passings = append(t.Passings, suspect.Sighting{Line: src.line, System: src.system, At: src.roughly(b.Time(l.Keep))})
			}
		}
		sortSightings(t.Passings)
		if len(t.Passings) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// clockSuspects are what the fits found odd about clocks.
func (r *run) clockSuspects(in *suspect.Input) {
	for _, k := range r.steps {
		x := &r.src[k.source]
		s := suspect.ClockStep{Line: x.line, Source: k.source, Before: k.Before, After: k.After, SizeS: k.SizeS, PlusMinusS: k.PlusMinusS,
			Pairs: min(k.PairsBefore, k.PairsAfter), Main: k.main, Told: k.told, Back: k.Step.Main != nil && k.SizeS > 0, On: k.Step.Main != nil && k.SizeS < 0, EveryS: k.EveryS, Ruled: k.seq}
		in.Steps = append(in.Steps, s)
	}
	for s := range r.src {
		x := &r.src[s]
		if x.twin {
			in.TwinLogs = append(in.TwinLogs, suspect.TwinLog{Line: x.line, Source: s, Reads: x.reads.Kept, Equal: x.equal})
		}
		if x.model == nil {
			continue
		}
		why := x.model.Unsure()
		if u, ok := r.contradicted(s); ok {
			in.Unsure = append(in.Unsure, u)
		}
		if why == "" || !r.wanted(s) {
			continue
		}
		if !x.vote.OK && x.vote.Why != "" {
			why = x.vote.Why
		}
		if x.vote.Named != "" {
			why += "; " + x.vote.Named
		}
		u := suspect.ClockUnsure{Line: x.line, Source: s, Why: why, OffsetS: math.NaN(), Pairs: len(x.model.Residuals())}
		if x.vote.Votes > 0 {
			u.OffsetS = (x.voted() - r.src[r.refs[x.line]].fixed).Seconds()
		}
		in.Unsure = append(in.Unsure, u)
	}
}

// contradicted tells of a clock that plan or ruling fixes otherwise than the crossings tell that both systems
// saw; so far off that none of both comes together by it, otherwise than the tags that both read: its times
// would stand beside main's as crossings of their own, and before them.
func (r *run) contradicted(s int) (suspect.ClockUnsure, bool) {
	x := &r.src[s]
	ref := r.refs[x.line]
	fixed, is := r.fixedOffset(s)
	if !is || !r.wanted(s) || !r.wanted(ref) {
		return suspect.ClockUnsure{}, false
	}
	set := fmt.Sprintf("set at %+.3f s", (fixed - r.src[ref].fixed).Seconds())
	if n := len(x.model.Residuals()); n > 0 {
		off, ok := r.otherwise(s, fixed)
		off -= r.src[ref].fixed.Seconds()
		why := fmt.Sprintf("it is %s, and they speak for %+.3f s", set, off)
		return suspect.ClockUnsure{Line: x.line, Source: s, Why: why, OffsetS: off, Pairs: n, Set: set}, ok
	}
	v := r.vote(ref, s) // a clock that isn't fixed has no other
	base := r.src[ref].fixed
	why := fmt.Sprintf("it is %s, and %s that both read speak for %+.3f s", set, race.Counted(v.Tags, "tag", "tags"), (v.Offset - base).Seconds())
	return suspect.ClockUnsure{Line: x.line, Source: s, Why: why, OffsetS: (v.Offset - base).Seconds(), Set: set}, v.OK
}

// otherwise is the offset that the crossings of both systems tell of a clock that is fixed, where that is
// another by more than the line bears, and than they can be wrong by; of a clock that was set in mid-race,
// one of those.
func (r *run) otherwise(s int, fixed race.Millis) (offset float64, ok bool) {
	if r.src[s].free == nil || r.src[s].free.Unsure() != "" {
		return 0, false
	}
	for _, t := range r.src[s].free.Stretches() {
		if d := math.Abs(t.OffsetS - fixed.Seconds()); d > r.plan.Lines[r.src[s].line].Tolerance.Seconds()+t.PlusMinusS {
			return t.OffsetS, true
		}
	}
	return 0, false
}

// wanted tells whether a log has reads whose clock matters.
func (r *run) wanted(s int) bool { return r.src[s].reads != nil && r.src[s].reads.Kept > 0 }

// adrift lists the rulings that no longer fit what later reads show.
func (r *run) adrift(st *race.State) []race.Suspect {
	var out []race.Suspect
	add := func(seq int, bib, line, split, says, evidence string) {
		out = append(out, race.Suspect{Finding: &race.Finding{ID: fmt.Sprintf("%s:%d", race.RulingAdrift, seq), Kind: race.RulingAdrift, Weight: race.Hold, Bibs: []string{bib}, Holds: []string{bib},
			Line: line, Split: split, At: race.NoInstant, Says: says, Proposes: fmt.Sprintf("undo --seq %d", seq), Evidence: evidence, Strong: false}})
	}
	for _, i := range r.who.ruled.some {
		e := &r.ents[i]
		if r.told.place[i] < 0 {
			continue
		}
		x := st.Results[r.told.place[i]]
		for _, v := range e.extra.voids {
			hit := false
			for k := range e.passings {
				hit = hit || e.passings[k].Fate == race.Voided && e.passings[k].Ruling == v.Seq
			}
			if !hit {
				add(v.Seq, x.Bib, r.plan.Lines[v.Line].ID, "", fmt.Sprintf("ruling %d voids a passing of %s at %s near %s, and there is none now", v.Seq, x.Bib, r.plan.Lines[v.Line].ID, v.At.Format(r.plan.Zone)), "none")
			}
		}
		for s := range e.splits {
			r.adriftSplit(e, s, add)
			r.adriftWitness(e, s, add)
		}
	}
	return out
}

// adriftReach is how far a system's read of the same crossing may be from a time that was
// ruled: a film's and a mat's differ by seconds at the most (common practice).
const adriftReach = 5000 * race.Millis(1)

func (r *run) adriftSplit(e *entrant, s int, add func(seq int, bib, line, split, says, evidence string)) {
	sp, k := &e.splits[s], e.filled[s]
	line := r.plan.Lines[sp.Line].ID
	if u, ok := e.extra.use[sp.ID]; ok && (k < 0 || e.passings[k].Bursts[u.System] == nil) {
		add(u.Seq, e.athlete.Bib, line, sp.ID, fmt.Sprintf("ruling %d takes %s's time of %s at %s, and %s has none", u.Seq, u.System, e.athlete.Bib, sp.ID, u.System), "none")
	}
	t, ok := e.extra.set[sp.ID]
	if !ok || k < 0 {
		return
	}
	var told, marks []string
	for sys, at := range e.passings[k].Seen {
		b := e.passings[k].Bursts[sys]
		if b == nil || slices.Contains(strings.Fields(t.Shown), burstMark(race.System(sys), b)) {
			continue // whoever ruled knew of it
		}
		if d := at.Sub(t.At); d.Known() && (d > adriftReach || d < -adriftReach) {
			told = append(told, fmt.Sprintf("%s says %s", race.System(sys), at.Format(r.plan.Zone)))
			marks = append(marks, burstMark(race.System(sys), b))
		}
	}
	if len(told) > 0 {
		add(t.Seq, e.athlete.Bib, line, sp.ID, fmt.Sprintf("ruling %d sets %s for %s at %s, and %s", t.Seq, t.At.Format(r.plan.Zone), e.athlete.Bib, sp.ID, strings.Join(told, ", ")), strings.Join(marks, " "))
	}
}

// adriftWitness tells of somebody seen by eye at a split that no system read then, while since
// they read the same athlete at its line, where that is no other split: one of both is a slip.
// Who has laps to go comes again, and goes on rolling after the last.
func (r *run) adriftWitness(e *entrant, s int, add func(seq int, bib, line, split, says, evidence string)) {
	sp, k := &e.splits[s], e.filled[s]
	if sp.Lap > 0 || k < 0 || len(systemsOf(&e.passings[k])) > 0 || e.passings[k].Bursts[race.Hand] == nil {
		return
	}
	n := slices.IndexFunc(e.extra.witnesses, func(w ruling.WitnessRead) bool { return w.Seq == int(e.passings[k].Bursts[race.Hand].Witness) })
	if n < 0 {
		return
	}
	w := &e.extra.witnesses[n]
	var told, marks []string
	for q := range e.passings {
		p := &e.passings[q]
		if p.Line != sp.Line || p.Fate != race.Extra {
			continue
		}
		for sys, b := range p.Bursts {
			if b != nil && race.System(sys) != race.Hand && p.Seen[sys].Known() && !slices.Contains(strings.Fields(w.Shown), burstMark(race.System(sys), b)) {
				told = append(told, fmt.Sprintf("%s says %s", race.System(sys), p.Seen[sys].Format(r.plan.Zone)))
				marks = append(marks, burstMark(race.System(sys), b))
			}
		}
	}
	if len(told) > 0 {
		line := r.plan.Lines[sp.Line].ID
		add(w.Seq, e.athlete.Bib, line, sp.ID, fmt.Sprintf("ruling %d has %s seen at %s at %s, and %s", w.Seq, e.athlete.Bib, line, w.At.Format(r.plan.Zone), strings.Join(told, ", ")), strings.Join(marks, " "))
	}
}

func sortSightings(s []suspect.Sighting) {
	slices.SortStableFunc(s, func(a, b suspect.Sighting) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Line, b.Line), cmp.Compare(a.System, b.System))
	})
}
