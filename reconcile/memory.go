package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
	"twinmat/reconcile/result"
	"twinmat/reconcile/ruling"
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
	turn      int
	plan      *race.Plan
	in        Input           // whose chips were whose rests on its lists and rulings,
	fx        *ruling.Effects // which came to this
	handsAt   int             // the turn in which those last changed
	bibs      map[string]*past
	sources   []pastSource
	fields    []pastField
	shared    map[string][]pastFit // by the name of a clock that several logs share
	dealt     *dealt               // nil: everything must be dealt
	strays    [][]race.Passing     // of each tag that nobody owns
	asked     asked
	rows      *rows
	counts    *counts
	guns      *guns
	classes   []class
	tellers   [][]int
	seen      [][]suspect.TagSeen // per result: what each of several chips did; nil: nobody has several
	suspects  suspect.Memory
	held      result.Holds
	ranking   result.Ranking
	unstarted map[int]unstarted // whose start passing is missing
	found     []race.Suspect    // of the race without its rulings: those of the last turn
	spans     *spans
}

// past is one bib's work.
type past struct {
	athlete         race.Athlete
	course          int
	gun             race.Instant
	recs            []rec
	extra           entrantRulings
	seen            int // the last turn that dealt all reads and had this bib
	first, last     outcome
	tally           tally
	firstAt, lastAt int // the turns that made them, 0: none
	ranAt           int // the turn in which the first one last became another run

	moved   outcome // on the times that the rulings make of main's, of who tells of the field,
	movedAt int     // and the turn in which it was made, 0: never
}

// outcome is what a bib's reads come to: passings, and which of them fills which split.
type outcome struct {
	passings []race.Passing
	splits   []race.Split
	filled   []int // per split the index in passings, -1: none
	level    float64
	disorder bool
	chipsGo  course.Chips
	searched bool
}

// pastSource is one log's clock and the turns in which it last changed.
type pastSource struct {
	ref, reads      *race.Reads // that the vote was taken of
	vote            clock.Vote
	votedAt         int  // the turn in which it was taken
	voteMore        bool // there were more stray tags then than are listed
	twins           race.Twins
	tagsOf          *race.Reads // whose tags were counted,
	tags            int
	common          [2]answers[common] // of those who are asked, and of all
	rough           roughClock
	fine            fineClock
	roughAt, fineAt int
	modelAt         int         // likewise of the model alone, which keeps the order of its times
	fits            [3]pastFits // from its own pairs; with the steps that others found; as though it weren't fixed
}

// roughClock is what laying a log's reads roughly on the race clock rests on.
type roughClock struct {
	known        bool
	fixed, rough race.Millis
	turns        []clock.Turn
	fold         *clock.Fold
	moved        []moved
}

// fineClock is what the last passings and their times rest on besides.
type fineClock struct {
	model *clock.Model
	far   bool
	burst float64
	moved []sideMoved
}

// pastField is what a course's athletes taught, and the turn in which that last changed.
type pastField struct {
	field course.Field
	runs  []course.Run // that taught it,
	runOf []int        // per run: whose it is, in order
	until race.Instant // from when on what they ran waits
	of    class        // and who is asked
	at    int

	// Per line: the turn in which what they taught last changed of those alone who were read at it, and of
	// those of them whose path had to be searched.
	lineAt, searchedAt []int

	moved   *course.Field // what they teach where a ruling moved main's times, nil: none did
	movedOf class
}

// last is what the last assignment rests on.
func (p *pastField) last() course.Field {
	if p.moved != nil {
		return *p.moved
	}
	return p.field
}

// remember begins a turn. What was remembered under another plan is forgotten.
func (r *run) remember(m, other *memory) {
	if m == nil {
		return
	}
	if other != nil && len(other.sources) == len(r.plan.Logs) && len(other.fields) == len(r.plan.Courses) {
		r.beside = &beside{mem: other}
	}
	r.mem, r.turn = m, m.turn+1
	if m.plan != nil && (m.plan == r.plan || reflect.DeepEqual(m.plan, r.plan)) {
		if r.sameHands, r.concerned = r.handsStay(); !r.sameHands {
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
	m.turn, m.plan, m.in, m.fx = r.turn, r.plan, r.in, r.fx
	if m.dealt != nil {
		m.dealt.restless = r.restless()
	}
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

// handsStay tells whether every chip is still whose it was in the turn before, and whom
// rulings concern that came since or went, as those that were but tried do: they are all that
// such rulings change anything for.
func (r *run) handsStay() (same bool, concerned []string) {
	a, b := &r.mem.in, &r.in
	if r.mem.turn == 0 || !sameSlice(a.Athletes, b.Athletes) || !sameSlice(a.Chips, b.Chips) || a.ZerosDropped != b.ZerosDropped {
		return false, nil
	}
	n := 0
	for n < min(len(a.Rulings), len(b.Rulings)) && reflect.DeepEqual(a.Rulings[n], b.Rulings[n]) {
		n++
	}
	went, ok := r.mem.fx.Since(a.Rulings, n)
	if !ok {
		return false, nil
	}
	came, ok := r.fx.Since(b.Rulings, n)
	return ok, append(went, came...)
}

// sameSlice tells whether two slices are the same elements in memory.
func sameSlice[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// sameRecs tells whether what a bib had in the logs as they were is what it has now, in the same place.
func (r *run) sameRecs(logs []*race.Reads, was, is []rec) bool {
	return sameSlice(was, is) || slices.EqualFunc(was, is, func(x, y rec) bool {
		if x != y {
			return false
		}
		a, b := logs[x.source], r.src[x.source].reads
		return a == b || sameSlice(a.Tags.At(int(x.at)).Reads[x.from:x.to], r.readsOf(y))
	})
}

// restsOn tells whether what is remembered of a bib rests on the same as this; logs are those that it
// was remembered of.
func (r *run) restsOn(p *past, logs []*race.Reads, e *entrant) bool {
	return p.athlete == e.athlete && p.course == e.course && p.gun == e.gun && r.sameRecs(logs, p.recs, e.recs) && p.extra.equal(&e.extra)
}

// twinOf is race.SameLog's, of reads that aren't those of the turn before.
func (r *run) twinOf(ref, s int) (equal int, one bool) {
	a, b := r.src[ref].reads, r.src[s].reads
	if r.mem == nil {
		return race.SameLog(a, b)
	}
	return r.mem.sources[s].twins.Look(a, b)
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
	switch x := r.src[s].reads; {
	case p.tagsOf == x:
	case p.tagsOf != nil && r.again:
		p.tags += r.moreTags(s, p.tagsOf)
	default:
		count()
		p.tags = n
	}
	p.tagsOf = r.src[s].reads
	return p.tags
}

// moreTags is how many tags more a log that only grew has reads of in its from and to than before.
func (r *run) moreTags(s int, before *race.Reads) (n int) {
	has := func(t *race.TagReads) int {
		if lo, hi := r.hereIn(s, t.Reads); lo < hi {
			return 1
		}
		return 0
	}
	r.src[s].reads.Tags.Since(&before.Tags, func(i int, t *race.TagReads) bool {
		if n += has(t); i < before.Tags.Len() {
			n -= has(before.Tags.At(i))
		}
		return true
	})
	return n
}

// vote is CoarseVote's, of reads that aren't those of the turn before; where no burst's time is
// another, it is the one before.
func (r *run) vote(ref, s int) clock.Vote {
	if r.mem == nil {
		c, _ := r.commonTimes(ref, s)
		return clock.CoarseVote(c.main, c.other)
	}
	p := &r.mem.sources[s]
	// Of more stray tags than are listed, other logs tell which ones are.
	others := !r.again && (p.voteMore || r.moreStrays > 0)
	if a, b := r.src[ref].reads, r.src[s].reads; p.ref != a || p.reads != b || p.votedAt < r.mem.handsAt || others {
		if c, anew := r.commonTimes(ref, s); anew {
			p.vote = clock.CoarseVote(c.main, c.other)
		}
		p.ref, p.reads, p.votedAt, p.voteMore = a, b, r.turn, r.moreStrays > 0
	}
	return p.vote
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
