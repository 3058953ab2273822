package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
	"twinmat/reconcile/suspect"
)

// memory is what one computation leaves for the next, so that a new read costs its athlete
// and what the field learns from it, not the whole field's passings again.
//
// Nothing in it is trusted but by its key: what a piece of work rested on is kept beside
// what came out of it and is compared whole; reads by their slice, which a log's snapshot
// never changes. What the field shares (clocks, factors of a course) is published rounded,
// so that it mostly stays the same; turns, numbers of computations, tell when each last
// changed. A race computed with a memory is the race computed without, byte for byte.
type memory struct {
	turn     int
	plan     *race.Plan
	in       Input // whose chips were whose rests on its lists and rulings
	handsAt  int   // the turn in which those last changed
	bibs     map[string]*past
	sources  []pastSource
	fields   []pastField
	shared   map[string][]pastFit // by the name of a clock that several logs share
	dealt    *dealt               // nil: everything must be dealt
	asked    asked
	rows     *rows
	suspects suspect.Memory
	spans    []span // of each log, on its own clock where that keeps the order of its times
}

// past is one bib's work.
type past struct {
	athlete         race.Athlete
	course          int
	gun             race.Instant
	recs            []rec
	extra           entrantRulings
	seen            int // the last turn that had this bib
	first, last     outcome
	tally           tally
	firstAt, lastAt int // the turns that made them, 0: none
}

// outcome is what a bib's reads come to: passings, and which of them fills which split.
type outcome struct {
	passings []race.Passing
	splits   []race.Split
	filled   []int // per split the index in passings, -1: none
	level    float64
	margin   float64
	disorder bool
}

// pastSource is one log's clock and the turns in which it last changed.
type pastSource struct {
	ref, reads      *race.Reads // that the vote was taken of
	vote            clock.Vote
	votedAt         int            // the turn in which it was taken
	voteMore        bool           // there were more stray tags then than are listed
	twinOf          [2]*race.Reads // that were held against each other,
	twin            bool           // and whether they are one log
	tagsOf          *race.Reads    // whose tags were counted,
	tags            int
	rough           roughClock
	fine            fineClock
	roughAt, fineAt int
	modelAt         int        // likewise of the model alone, which keeps the order of its times
	fits            [2]pastFit // from its own pairs; with the steps that others found
}

// roughClock is what laying a log's reads roughly on the race clock rests on.
type roughClock struct {
	known        bool
	fixed, rough race.Millis
	turns        []clock.Turn
	moved        []moved
}

// fineClock is what the last passings and their times rest on besides.
type fineClock struct {
	model *clock.Model
	far   bool
	burst float64
	moved []moved
}

// pastField is what a course's athletes taught, and the turn in which that last changed.
type pastField struct {
	field   course.Field
	bibs    int
	tellers int // those of them who are asked
	at      int
}

// pastFit is one fit of a clock.
type pastFit struct {
	pairs  []clock.Pair
	config clock.Config
	model  *clock.Model
}

// remember begins a turn. What was remembered under another plan is forgotten.
func (r *run) remember(m *memory) {
	if m == nil {
		return
	}
	r.mem, r.turn = m, m.turn+1
	if m.plan != nil && (m.plan == r.plan || reflect.DeepEqual(m.plan, r.plan)) {
		if !r.sameHands() {
			m.handsAt = r.turn
		}
		return
	}
	*m = memory{turn: m.turn, bibs: map[string]*past{}, sources: make([]pastSource, len(r.plan.Logs)),
		fields: make([]pastField, len(r.plan.Courses)), shared: map[string][]pastFit{}}
}

// recall finds what is remembered of each bib.
func (r *run) recall() {
	if r.mem == nil || r.again {
		return
	}
	for i := range r.ents {
		e := &r.ents[i]
		e.past = r.mem.bibs[e.athlete.Bib]
		if e.past == nil {
			e.past = &past{}
			r.mem.bibs[e.athlete.Bib] = e.past
		}
	}
}

// leave ends a turn: bibs that it hadn't are forgotten.
func (r *run) leave() {
	m := r.mem
	if m == nil {
		return
	}
	m.turn, m.plan, m.in = r.turn, r.plan, r.in
	if r.again {
		return
	}
	for i := range r.ents {
		r.ents[i].past.seen = r.turn
	}
	if len(m.bibs) > len(r.ents) {
		for bib, p := range m.bibs {
			if p.seen != r.turn {
				delete(m.bibs, bib)
			}
		}
	}
}

// sameHands tells whether every chip is still whose it was in the turn before.
func (r *run) sameHands() bool {
	a, b := &r.mem.in, &r.in
	return r.mem.turn > 0 && sameSlice(a.Athletes, b.Athletes) && sameSlice(a.Chips, b.Chips) && a.ZerosDropped == b.ZerosDropped && slices.EqualFunc(a.Rulings, b.Rulings,
		func(x, y race.Ruling) bool { return reflect.DeepEqual(x, y) })
}

// sameSlice tells whether two slices are the same elements in memory.
func sameSlice[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

func sameRecs(a, b []rec) bool {
	return slices.EqualFunc(a, b, func(x, y rec) bool { return x.source == y.source && x.tag == y.tag && sameSlice(x.reads, y.reads) })
}

// twinOf is sameLog's, of reads that aren't those of the turn before.
func (r *run) twinOf(ref, s int) bool {
	a, b := r.src[ref].reads, r.src[s].reads
	if r.mem == nil {
		return sameLog(a, b)
	}
	p := &r.mem.sources[s]
	if p.twinOf != [2]*race.Reads{a, b} {
		p.twinOf, p.twin = [2]*race.Reads{a, b}, sameLog(a, b)
	}
	return p.twin
}

// tagsIn counts the tags that a log has reads of in its from and to, of reads that aren't those
// of the turn before.
func (r *run) tagsIn(s int) (n int) {
	count := func() { r.tagsHere(s, func(string) { n++ }) }
	if r.mem == nil {
		count()
		return n
	}
	p := &r.mem.sources[s]
	if p.tagsOf != r.src[s].reads || p.tagsOf == nil {
		count()
		p.tagsOf, p.tags = r.src[s].reads, n
	}
	return p.tags
}

// vote is CoarseVote's, of reads that aren't those of the turn before.
func (r *run) vote(ref, s int) clock.Vote {
	if r.mem == nil {
		return clock.CoarseVote(r.commonTimes(ref, s))
	}
	p := &r.mem.sources[s]
	// Of more stray tags than are listed, other logs tell which ones are.
	others := !r.again && (p.voteMore || r.moreStrays > 0)
	if a, b := r.src[ref].reads, r.src[s].reads; p.ref != a || p.reads != b || p.votedAt < r.mem.handsAt || others {
		p.ref, p.reads, p.vote, p.votedAt, p.voteMore = a, b, clock.CoarseVote(r.commonTimes(ref, s)), r.turn, r.moreStrays > 0
	}
	return p.vote
}

// fit is clock.Fit's, of pairs or a config that aren't those of the turn before; kind tells
// the two fits of a log apart.
func (r *run) fit(s, kind int, pairs []clock.Pair, c clock.Config) *clock.Model {
	if r.mem == nil {
		return clock.Fit(pairs, c)
	}
	p := &r.mem.sources[s].fits[kind]
	if !p.of(pairs, c) {
		*p = pastFit{pairs, c, clock.Fit(pairs, c)}
	}
	return p.model
}

// fitShared is clock.FitShared's, likewise.
func (r *run) fitShared(name string, pairs [][]clock.Pair, cs []clock.Config) []*clock.Model {
	if r.mem == nil {
		return clock.FitShared(pairs, cs)
	}
	old := r.mem.shared[name]
	same := len(old) == len(pairs)
	for i := 0; same && i < len(old); i++ {
		same = old[i].of(pairs[i], cs[i])
	}
	if !same {
		old = make([]pastFit, len(pairs))
		for i, m := range clock.FitShared(pairs, cs) {
			old[i] = pastFit{pairs[i], cs[i], m}
		}
		r.mem.shared[name] = old
	}
	models := make([]*clock.Model, len(old))
	for i := range old {
		models[i] = old[i].model
	}
	return models
}

func (p *pastFit) of(pairs []clock.Pair, c clock.Config) bool {
	return p.model != nil && reflect.DeepEqual(p.config, c) && slices.EqualFunc(p.pairs, pairs, func(x, y clock.Pair) bool { return clock.ComparePairs(x, y) == 0 })
}

// roughSettled notes which logs' rough clocks are others than in the turn before.
func (r *run) roughSettled() {
	if r.mem == nil {
		return
	}
	r.roughCalm = true
	for s := range r.src {
		x, p := &r.src[s], &r.mem.sources[s]
		now := roughClock{known: x.known, fixed: x.fixed, rough: x.rough, moved: x.moved}
		if x.turns() {
			now.turns = x.vote.Turns
		}
		if p.roughAt == 0 || !reflect.DeepEqual(now, p.rough) {
			p.rough, p.roughAt = now, r.turn
			r.roughCalm = false
		}
	}
}

// fineSettled notes which logs' fine clocks and which courses' fields are others than in
// the turn before.
func (r *run) fineSettled() {
	if r.mem == nil {
		return
	}
	r.fineCalm = r.roughCalm && r.fieldsCalm()
	for s := range r.src {
		x, p := &r.src[s], &r.mem.sources[s]
		now := fineClock{model: x.model, far: r.far[x.line], burst: x.burst, moved: r.lineMoved[x.line]}
		old := p.fine
		switch {
		case p.fineAt == 0 || p.roughAt == r.turn || now.far != old.far || now.burst != old.burst || !slices.Equal(now.moved, old.moved) || !alikeModels(now.model, old.model):
			p.fine, p.fineAt = now, r.turn
			r.fineCalm = false
		case !now.model.Equal(old.model):
			p.fine, p.modelAt = now, r.turn
			r.fineCalm = false
		}
	}
}

// alikeModels tells whether two models are one, or both keep the order of their times: then
// one is as good as the other to tell about when something was.
func alikeModels(a, b *clock.Model) bool {
	return a.Equal(b) || a != nil && b != nil && !a.SetBack() && !b.SetBack()
}

// fieldsCalm tells whether every course's field teaches what it did in the turn before.
func (r *run) fieldsCalm() bool {
	return !slices.ContainsFunc(r.mem.fields, func(f pastField) bool { return f.at == r.turn })
}

// firstStands tells whether a bib's first outcome is that of an earlier turn, and takes it.
func (r *run) firstStands(e *entrant) bool {
	p := e.past
	if p == nil {
		return false
	}
	if r.again && r.roughCalm && !e.fresh {
		e.outcome = p.first
		return true
	}
	stands := p.firstAt > 0 && p.athlete == e.athlete && p.course == e.course && p.gun == e.gun && sameRecs(p.recs, e.recs) && p.extra.equal(&e.extra)
	for i := 0; stands && i < len(e.recs); i++ {
		stands = r.mem.sources[e.recs[i].source].roughAt <= p.firstAt
	}
	if stands {
		e.outcome = p.first
	}
	return stands
}

// firstMade remembers a bib's first outcome.
func (r *run) firstMade(e *entrant) {
	if p := e.past; p != nil {
		p.athlete, p.course, p.gun, p.recs, p.extra = e.athlete, e.course, e.gun, slices.Clone(e.recs), e.extra
		p.first, p.firstAt = e.outcome, r.turn
	}
}

// lastStands is firstStands for the last outcome. A flagged course's hangs on its leader,
// and is always made anew.
func (r *run) lastStands(e *entrant) bool {
	p := e.past
	if p == nil || p.lastAt < p.firstAt || p.lastAt == 0 || e.course >= 0 && (r.plan.Courses[e.course].Flagged || r.mem.fields[e.course].at > p.lastAt) {
		return false
	}
	moved := false // a model alone
	for i := 0; !(r.again && r.fineCalm) && i < len(e.recs); i++ {
		x := &r.mem.sources[e.recs[i].source]
		if x.fineAt > p.lastAt {
			return false
		}
		moved = moved || x.modelAt > p.lastAt
	}
	if moved && !r.retimed(e) {
		return false
	}
	if !moved {
		e.outcome, e.tally, e.stands = p.last, p.tally, true
	}
	e.timed = true
	return true
}

func (r *run) lastMade(e *entrant) {
	if p := e.past; p != nil {
		p.last, p.tally, p.lastAt = e.outcome, e.tally, r.turn
	}
}

// taught is what course c's athletes teach, learnt anew when one of them, or one more or
// less, came to something else by first outcome.
func (r *run) taught(c, bibs, tellers int, changed bool, learn func() course.Field) course.Field {
	if r.mem == nil {
		return learn()
	}
	p := &r.mem.fields[c]
	if p.at > 0 && !changed && p.bibs == bibs && p.tellers == tellers {
		return p.field
	}
	f := learn()
	if p.at == 0 || !reflect.DeepEqual(f, p.field) {
		p.field, p.at = f, r.turn
	}
	p.bibs, p.tellers = bibs, tellers
	return p.field
}

// renewed tells whether a bib's first outcome, or its being there, is new since the turn
// before.
func (r *run) renewed(e *entrant) bool {
	return e.past == nil || e.past.firstAt == r.turn || e.past.seen != r.turn-1
}

func (x *entrantRulings) equal(y *entrantRulings) bool {
	if x.none() && y.none() {
		return true
	}
	return reflect.DeepEqual(x, y)
}

func (x *entrantRulings) none() bool {
	return len(x.voids)+len(x.witnesses)+len(x.set)+len(x.use) == 0
}
