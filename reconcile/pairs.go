package reconcile

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/passing"
	"twinmat/reconcile/race"
)

// allPairs are the crossings that each log shares with its line's reference, of those who
// tell of it, in no promised order.
func (r *run) allPairs() [][]clock.Pair {
	r.crowd()
	every := make([]int, len(r.src))
	for s := range r.src {
		every[s] = r.everyAt(s)
	}
	kept := &asked{}
	if r.mem != nil {
		kept = &r.mem.asked
	}
	var room sync.Pool // of *[][]clock.Pair: what comes out is copied, exactly as large as it is
	moved := make([]atomic.Bool, len(r.src))
	whole, any := kept.pairsBy.ask(r, r.roughCalm && r.fieldsCalm(), every, func(from, to int, old [][]clock.Pair) [][]clock.Pair {
		into, ok := room.Get().(*[][]clock.Pair)
		if !ok {
			into = new(make([][]clock.Pair, len(r.src)))
		}
		for i := from; i < to; i++ {
			if e := &r.ents[i]; slices.ContainsFunc(every, e.tells) {
				r.pairsOf(r.atFirst(e), i, every, *into)
			}
		}
		row := make([][]clock.Pair, len(r.src))
		for s := range *into {
			if old != nil && slices.EqualFunc(old[s], (*into)[s], samePair) {
				row[s] = old[s]
			} else {
				row[s] = append(make([]clock.Pair, 0, len((*into)[s])), (*into)[s]...)
				moved[s].Store(true)
			}
			(*into)[s] = (*into)[s][:0]
		}
		room.Put(into)
		return row
	})
	if !any && !r.strayed {
		return kept.pairs
	}
	pairs := make([][]clock.Pair, len(r.src))
	fresh := func(s int) bool { return whole || r.strayed || moved[s].Load() }
	r.inOnePiece(kept.pairsBy.rows, pairs, fresh)
	few := func(x rec) bool {
		return fresh(int(x.source)) && int(x.source) != r.refs[r.src[x.source].line] && len(pairs[x.source]) < enoughPairs
	}
	for i := range r.strays {
		if slices.ContainsFunc(r.strays[i].recs, few) {
			r.strayPairs(&r.strays[i], len(r.ents)+i, pairs)
		}
	}
	for s := range pairs {
		if !fresh(s) {
			pairs[s] = kept.pairs[s] // with those of strays, of whom none has more
		}
	}
	kept.pairs = pairs
	return pairs
}

// samePair tells whether two crossings are one, as far as anything is told of them.
func samePair(a, b clock.Pair) bool { return a.Early == b.Early && clock.ComparePairs(a, b) == 0 }

// inOnePiece gathers the pairs of some logs, of all rows of athletes.
func (r *run) inOnePiece(rows [][][]clock.Pair, pairs [][]clock.Pair, of func(s int) bool) {
	r.each(1, len(pairs), func(s int) {
		if !of(s) {
			return
		}
		n := 0
		for k := range rows {
			n += len(rows[k][s])
		}
		pairs[s] = make([]clock.Pair, 0, n)
		for k := range rows {
			pairs[s] = append(pairs[s], rows[k][s]...)
		}
		pairs[s] = withoutEarly(pairs[s])
	})
}

// withoutEarly takes out what was read before the gun where crossings in the race are enough:
// who waits about a start is read by both systems at once, and no speed tells how far apart
// they stand.
func withoutEarly(pairs []clock.Pair) []clock.Pair {
	early := func(p clock.Pair) bool { return p.Early }
	n := 0
	for i := range pairs {
		if !early(pairs[i]) {
			n++
		}
	}
	if n < enoughPairs || n == len(pairs) {
		return pairs
	}
	return slices.DeleteFunc(pairs, early)
}

// pairsOf are the crossings of one bib that a log shares with its line's reference.
func (r *run) pairsOf(e *entrant, tag int, every []int, pairs [][]clock.Pair) {
	for i := range e.passings {
		p := &e.passings[i]
		ref := r.refs[p.Line]
		if ref < 0 || r.crowded[p.Line] {
			continue
		}
		m := p.Bursts[r.src[ref].system]
		if m == nil || int(m.Source) != ref {
			continue
		}
		for _, b := range p.Bursts {
			if b != nil && b != m && b.Source >= 0 && e.tells(every[b.Source]) {
				r.pair(e, p, m, b, tag, pairs)
			}
		}
	}
	for l, crowded := range r.crowded {
		if crowded {
			r.pairsAmong(e, l, tag, every, pairs)
		}
	}
}

// pair adds a crossing that both logs saw, and what is known of it.
func (r *run) pair(e *entrant, p *race.Passing, m, b *race.Burst, tag int, pairs [][]clock.Pair) {
	keep, u, g := r.plan.Lines[p.Line].Keep, unknown, 0
	folded := r.src[b.Source].vote.Fold != nil // main tells another time than it was, before the gun too
	switch {
	case p.Fate == race.Voided:
		return
	case p.Split >= 0:
		keep, u, g = r.keep(e, p), r.slowness(e, p.Split), r.group(e, p.Split)
	case folded && (p.Fate == race.Extra || p.Fate == race.AfterLimit):
	case p.Fate != race.BeforeGun:
		return // who stayed near tells little: two bursts of a crowd of one
	}
	at, _ := r.src[m.Source].onRace(m.Time(keep))
	x := r.crossed(e, p, b, keep, u, g)
	if p.Split < 0 {
		x.U, x.ByBurst = unknown, false
	}
	pairs[b.Source] = append(pairs[b.Source], clock.Pair{Main: at, Other: b.Time(keep), U: x.U, Long: x.Long, Mid: x.Mid, Wide: x.Wide, Beside: lasting(m), Reads: x.Reads, ByBurst: x.ByBurst, Group: g, Tag: tag, Early: p.Fate == race.BeforeGun && !folded})
}

// crowd notes the lines where a system has several logs. Of those a passing keeps the burst
// that came first (or was strongest, or last), which tells of neither's clock: each log is
// held against the reference by itself.
func (r *run) crowd() {
	r.crowded = make([]bool, len(r.plan.Lines))
	for l := range r.plan.Lines {
		var logs [race.Systems]int
		for _, s := range r.plan.Lines[l].Logs {
			if !r.src[s].twin {
				logs[r.src[s].system]++
			}
		}
		for _, n := range logs {
			r.crowded[l] = r.crowded[l] || n > 1
		}
	}
}

// pairsAmong joins each log's bursts with the reference's own.
func (r *run) pairsAmong(e *entrant, line, tag int, every []int, pairs [][]clock.Pair) {
	ref := r.refs[line]
	if ref < 0 || !holds(e.recs, ref) {
		return
	}
	cut := r.startCut(e, line)
	main, laid := r.burstsOf(e, ref, cut)
	for _, s := range r.plan.Lines[line].Logs {
		if s == ref || r.src[s].twin || r.src[s].ref || !e.tells(every[s]) || !holds(e.recs, s) {
			continue
		}
		bs, spans := r.burstsOf(e, s, cut)
		for _, q := range passing.Join(nil, laid, spans, r.plan.Lines[line].Window) {
			if q[0] < 0 || q[1] < 0 {
				continue
			}
			if p := r.around(e, line, laid[q[0]].Kept); p != nil {
				r.pair(e, p, &main[q[0]], &bs[q[1]], tag, pairs)
			}
		}
	}
}

// burstsOf are a bib's bursts in one log, and where they lie on the race clock.
func (r *run) burstsOf(e *entrant, s int, cut race.Instant) ([]race.Burst, []passing.Span) {
	x := &r.src[s]
	l := &r.plan.Lines[x.line]
	bs := passing.Bursts(nil, r.ownOf(nil, e.recs, s), passing.Rule{Source: s, Window: l.Window, Cut: x.ownTime(cut), Centre: r.centred[x.line], Wide: !x.ref})
	return bs, x.spans(bs, nil, nil, l.Keep, l.Window)
}

// around is the passing at a line nearest to a moment.
func (r *run) around(e *entrant, line int, at race.Instant) *race.Passing {
	var best *race.Passing
	gap := race.Millis(math.MaxInt64)
	for i := range e.passings {
		if p := &e.passings[i]; p.Line == line && p.At.Known() {
			if d := max(p.At.Sub(at), at.Sub(p.At)); d < gap {
				best, gap = p, d
			}
		}
	}
	return best
}
