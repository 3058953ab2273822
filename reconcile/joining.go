package reconcile

import (
	"twinmat/reconcile/passing"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// joiner is room in which one bib's passings are made: what comes out is copied, exactly as
// large as it is, and the room is used again for the next bib.
type joiner struct {
	all             []race.Passing
	ps, next        []race.Passing // of one line; next is where newcomers are sorted in
	spans, nextSpan []passing.Span
	more            []passing.Span
	pairs           [][2]int
	own             []passing.Own
	bursts          []race.Burst // of one log
	kept            []race.Burst // not room: the passings hold them
	recs            int          // how many the bib has: mostly a burst each
}

// keep copies bursts to where they stay.
func (j *joiner) keep(bs []race.Burst) []race.Burst {
	if cap(j.kept)-len(j.kept) < len(bs) {
		j.kept = make([]race.Burst, 0, max(len(bs), j.recs))
	}
	n := len(j.kept)
	j.kept = append(j.kept, bs...)
	return j.kept[n:len(j.kept):len(j.kept)]
}

// joiner is room that nobody uses; it is put back among r.joiners.
func (r *run) joiner() *joiner {
	if j, ok := r.joiners.Get().(*joiner); ok {
		return j
	}
	return &joiner{}
}

// passings are a bib's crossings of every line, in order of time, on the race clock as
// well as it is known by now.
func (r *run) passings(recs []rec, e *entrant, seen []ruling.WitnessRead) []race.Passing {
	j := r.joiner()
	j.all, j.kept, j.recs = j.all[:0], nil, len(recs)
	for from := 0; from < len(recs); {
		line := r.src[recs[from].source].line
		to := from
		for to < len(recs) && r.src[recs[to].source].line == line {
			to++
		}
		r.atLine(j, line, recs[from:to], r.startCut(e, line))
		j.all = append(j.all, j.ps...)
		from = to
	}
	var all []race.Passing
	if len(j.all) > 0 {
		all = append(make([]race.Passing, 0, len(j.all)), j.all...)
	}
	r.joiners.Put(j)
	for _, w := range seen {
		all = r.witness(all, w)
	}
	inOrder(all)
	return all
}

// atLine joins the bursts of all logs of a line, main's first, to j.ps.
func (r *run) atLine(j *joiner, line int, recs []rec, cut race.Instant) {
	l := &r.plan.Lines[line]
	j.ps, j.spans = j.ps[:0], j.spans[:0]
	for system := race.Main; system < race.Systems; system++ {
		for _, s := range l.Logs {
			if r.src[s].system != system {
				continue
			}
			j.own = r.ownOf(j.own[:0], recs, s)
			if len(j.own) == 0 {
				continue
			}
			x := &r.src[s]
			j.bursts = passing.Bursts(j.bursts[:0], j.own, passing.Rule{Source: s, Window: l.Window, Cut: x.ownTime(cut), Centre: r.centred[line], Wide: !x.ref})
			j.more = x.spans(j.bursts, j.spans, j.more[:0], l.Keep, l.Window)
			j.pairs = passing.Join(j.pairs[:0], j.spans, j.more, l.Window)
			if r.turned[line] && x.model == nil {
				j.pairs = passing.JoinAlone(j.pairs, j.spans, j.more, 2*l.Window)
			}
			j.merge(j.keep(j.bursts), line, system, l.Keep)
		}
	}
}

// merge lays the bursts of one more log on the passings so far, as j.pairs has them.
func (j *joiner) merge(bs []race.Burst, line int, system race.System, keep race.Keep) {
	if len(j.pairs) == len(j.ps) { // nobody new: each stays in its place
		for i, q := range j.pairs {
			if q[1] >= 0 {
				j.spans[i] = lay(&j.ps[i], j.spans[i], &bs[q[1]], j.more[q[1]], system, keep)
			}
		}
		return
	}
	j.next, j.nextSpan = j.next[:0], j.nextSpan[:0]
	for _, q := range j.pairs {
		if q[0] >= 0 {
			j.next, j.nextSpan = append(j.next, j.ps[q[0]]), append(j.nextSpan, j.spans[q[0]])
			if i := len(j.next) - 1; q[1] >= 0 {
				j.nextSpan[i] = lay(&j.next[i], j.nextSpan[i], &bs[q[1]], j.more[q[1]], system, keep)
			}
			continue
		}
		p := race.Passing{Line: line, Split: -1, At: j.more[q[1]].Kept, From: race.FromSystem(system)}
		for k := range p.Seen {
			p.Seen[k], p.PM[k] = race.NoInstant, race.NoMillis
		}
		p.Bursts[system], p.Seen[system] = &bs[q[1]], j.more[q[1]].Kept
		j.next, j.nextSpan = append(j.next, p), append(j.nextSpan, j.more[q[1]])
	}
	j.ps, j.next, j.spans, j.nextSpan = j.next, j.ps, j.nextSpan, j.spans
}

// lay puts one more log's burst on a passing, and gives its span then.
func lay(p *race.Passing, span passing.Span, b *race.Burst, more passing.Span, system race.System, keep race.Keep) passing.Span {
	if p.Bursts[system] == nil {
		p.Bursts[system], p.Seen[system] = b, more.Kept
		return span
	}
	return second(p, span, b, more, system, keep)
}

// second lays a burst on a passing that another log of the same system saw too: one of the
// two keeps the time, by the line's rule, and stands for the reads of both.
func second(p *race.Passing, span passing.Span, b *race.Burst, more passing.Span, system race.System, keep race.Keep) passing.Span {
	a := p.Bursts[system]
	better := more.Kept < p.Seen[system]
	switch keep {
	case race.KeepLast:
		better = more.Kept > p.Seen[system]
	case race.KeepStrongest, race.KeepCentre:
		better = b.Peak > a.Peak || b.Peak == a.Peak && better
	}
	one := *a
	if better {
		one = *b
		p.Seen[system] = more.Kept
		if p.From == race.FromSystem(system) {
			p.At, span.Kept = more.Kept, more.Kept
		}
	}
	one.Count = a.Count + b.Count
	p.Bursts[system] = &one
	return passing.Span{First: min(span.First, more.First), Last: max(span.Last, more.Last), Kept: span.Kept}
}
