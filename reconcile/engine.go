// Package reconcile turns a race's plan, lists, raw reads and rulings into the race as it
// stands. It is the house's one computation: pure, and the same for any order in which the
// reads came. An Engine runs it whenever something changed and remembers, athlete by athlete
// and clock by clock, what hasn't (memory); Compute runs it whole.
//
// The steps, each a file: sources (the logs), deal (whose reads), align (rough clocks), fold
// and assign (passings and their splits), clocks (fine clocks), times, rows and state (results),
// suspects. Ranks are a room of their own.
package reconcile

import (
	"slices"
	"sync"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
	"twinmat/reconcile/result"
	"twinmat/reconcile/ruling"
	"twinmat/reconcile/suspect"
)

// Input is everything a race's state rests on.
type Input struct {
	Plan         *race.Plan
	Athletes     []race.Athlete
	Chips        []race.Chip
	ZerosDropped bool          // chips.csv drops leading zeros
	Reads        []*race.Reads // per source; nil: nothing yet
	Rulings      []race.Ruling
}

// Compute is the race as it stands. It depends on its input only. Where rulings stand it is
// worked out without them too, to list as settled what only they made go away.
func Compute(in Input) *race.State { return computeBoth(in, nil, nil, tellersEnough) }

// Engine computes a race that grows, again and again. It remembers what reads that haven't
// changed came to; what it gives is what Compute gives. Plans, lists and reads that it was
// given are not to be changed: it knows them by where they are. The zero Engine is ready. It
// isn't for use by two goroutines at once.
type Engine struct{ ruled, bare memory }

// Compute is the race as it stands.
func (g *Engine) Compute(in Input) *race.State {
	return computeBoth(in, &g.ruled, &g.bare, tellersEnough)
}

func computeBoth(in Input, ruled, unruled *memory, enough int) *race.State {
	r, st := compute(in, ruled, nil, enough)
	var held result.Holds
	var ranking result.Ranking
	if ruled != nil {
		held = ruled.held
		if r.told.same {
			ranking = ruled.ranking
		} else {
			held.Moved()
		}
	}
	result.Settle(st, &held, func(id string) (int, string, bool) {
		a, ok := r.fx.Accepts[id]
		return a.Seq, a.Evidence, ok
	})
	result.Rank(st, &ranking)
	if ruled != nil {
		ruled.held, ruled.ranking = held, ranking
	}
	if slices.ContainsFunc(in.Rulings, func(x race.Ruling) bool { return r.changes(&x) }) {
		r.settled(st, suspectsWithout(in, unruled, ruled, enough))
	}
	return st
}

// compute is one computation, but for what its suspects hold and for ranks; with a memory and
// beside that of another, nil: without.
func compute(in Input, m, other *memory, enough int) (*run, *race.State) {
	r := &run{in: in, enough: enough}
	r.fx = ruling.Fold(in.Plan, in.Athletes, in.Chips, in.Rulings)
	r.plan = r.fx.Plan
	r.remember(m, other)
	r.sources()
	r.nameGroups()
	r.own()
	r.align()
	r.ownAgain()
	r.gather()
	r.recall()
	r.roughSettled()
	r.roughBeside()
	r.foldRough()
	r.fitClocks()
	r.farClocks()
	r.fineSettled()
	r.learnMoved()
	r.fieldsSettled()
	r.fineBeside()
	r.foldFine()
	r.timeAll()
	r.countAll()
	r.findNow()
	r.findGuns()
	st := r.state()
	r.suspects(st)
	r.leave()
	return r, st
}

// run is one computation: what each step leaves for the next.
type run struct {
	in   Input
	plan *race.Plan
	fx   *ruling.Effects

	windows []race.Millis // per line
	crowded []bool        // per line: a system has several logs there
	centred []bool        // per line: somebody keeps the centre there

	enough int // athletes to ask at the least: tellersEnough, but in tests

	refs  []int    // per line: its reference source, -1: a line without logs
	src   []source // per source
	sums  race.Sums
	field []course.Field // per course
	flags []ending       // per course: when it was flagged

	ents        []entrant
	who         *counts // of them
	guns        *guns
	classes     []class // per course
	tellers     [][]int // per course: the entrants who tell of it
	byBib       map[string]int
	strays      []stray
	moreStrays  int    // tags that nobody owns beyond those
	loose       loose  // theirs
	spans       []span // per source
	told        *rows  // of the state
	now         race.Instant
	far         []bool     // per line: its fine clocks are far from the rough ones
	bothWays    []bool     // per course: it may pass a line in both directions
	turned      []bool     // per line: such a course passes it at several splits
	splitGroups [][]int    // per course and split: the group whose behind it has
	lineGroups  [][]string // per line: the names of its groups
	steps       []step
	lineMoved   map[int][]sideMoved // per line: its reference's step, ascribed by a ruling

	joiners    sync.Pool // of *joiner
	candidates sync.Pool // of *candidates
	mem        *memory   // nil: everything is worked out
	beside     *beside   // nil: there is no other race to take from
	turn       int
	sameHands  bool     // every chip is whose it was in the turn before
	concerned  []string // bibs whom rulings that came since, or went, are about, if so
	again      bool     // only what came since the turn before was dealt:
	fresh      []int    // the entrants whose it is
	strayed    bool     // and some of it is nobody's
	untouched  bool     // nobody else's outcome was touched before the fine clocks
	roughCalm  bool     // no log's rough clock is another than in the turn before
	fineCalm   bool     // nor its fine one, nor what a course's field teaches
}

// source is what is known of one log's clock.
type source struct {
	reads     *race.Reads
	line      int
	system    race.System
	ref       bool        // its line's reference: on the race clock but for fixed
	fixed     race.Millis // of a reference: its clock minus the race clock
	twin      bool        // it is its reference's own log again, and left out
	equal     int         // so many of its reads are its reference's too, where that tells
	rough     race.Millis // coarse offset to the race clock
	vote      clock.Vote
	model     *clock.Model // nil: reference, or nothing to fit
	free      *clock.Model // of a clock that is fixed: as though it weren't; nil: it isn't, or too few tell
	known     bool         // rough can be trusted
	moved     []moved      // main's own times, corrected by rulings
	says      string
	elsewhere int     // reads outside its from and to
	worn      int     // tags that somebody wears all day
	burst     float64 // reads of a usual burst, 0: not known yet
}

// entrant is one bib with what it has done.
type entrant struct {
	athlete race.Athlete
	listed  bool
	draw    uint32 // by which they are asked among many
	course  int
	gun     race.Instant
	recs    []rec // its reads, by source
	tags    []string

	outcome
	tally  tally
	apart  []suspect.TagSeen // what each of several chips did by itself
	chips  []string          // the tags that are theirs
	extra  entrantRulings
	past   *past // what is remembered, nil: nothing is
	fresh  bool  // has more reads, or other rulings, than in the turn before
	ruled  bool  // has other rulings
	stands bool  // the outcome is the last one of an earlier turn, and what else is told of them the same
	timed  bool  // its times are there: it stands, a clock's model alone moved, or it is that of the race beside
}

// stray is a tag that belongs to nobody on the list.
type stray struct {
	race.StrayTag
	recs []rec
}

// rec is one tag's reads in one log, or a part of them: from one to before another of the at-th tag's.
// A great race has a million: places, which the collector doesn't follow.
type rec struct {
	source, at, from, to int32
	bare                 bool // the tag is called without its leading zeros
}

// readsOf are the reads themselves.
func (r *run) readsOf(x rec) []race.Read {
	return r.src[x.source].reads.Tags.At(int(x.at)).Reads[x.from:x.to:x.to]
}

// tagOf is how their chip is called.
func (r *run) tagOf(x rec) string {
	tag := r.src[x.source].reads.Tags.At(int(x.at)).Tag
	if x.bare {
		return bare(tag)
	}
	return tag
}
