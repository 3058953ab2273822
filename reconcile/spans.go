package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// span is from when to when a log's bursts go, on the race clock; NoInstant: it has none.
type span struct{ first, last race.Instant }

var noSpan = span{race.NoInstant, race.NoInstant}

func (o *span) widen(first, last race.Instant) {
	if !o.first.Known() || first.Known() && first < o.first {
		o.first = first
	}
	o.last = max(o.last, last)
}

// spans are those of all logs, kept from turn to turn. A clock that keeps the order of its
// times has its first and last burst on its own clock: no tag's first read is later in the
// next turn, no last one earlier. Of others, and where a passing keeps one of several logs'
// bursts, each entrant's is kept.
type spans struct {
	ordered []bool   // per source
	loose   []bool   // per source: each entrant's is kept
	all     []span   // per source: where loose, of strays alone
	of      [][]span // per source that is loose, per entrant
}

// spanned finds each log's span.
func (r *run) spanned() []span {
	x := r.spansKept()
	out := make([]span, len(r.src))
	for s := range out {
		out[s] = x.all[s]
		for _, o := range x.of[s] {
			out[s].widen(o.first, o.last)
		}
		if x.ordered[s] && out[s].first.Known() {
			out[s] = span{r.src[s].roughly(out[s].first), r.src[s].roughly(out[s].last)}
		}
	}
	return out
}

// spansKept are those of the turn before with what is new in them, or all anew.
func (r *run) spansKept() *spans {
	n := len(r.src)
	x := &spans{make([]bool, n), make([]bool, n), make([]span, n), make([][]span, n)}
	for s := range r.src {
		x.ordered[s] = r.src[s].inOrder()
		x.loose[s] = !x.ordered[s] || r.crowded[r.src[s].line]
	}
	if r.mem != nil {
		was := r.mem.spans
		r.mem.spans = x
		if was != nil && r.again && slices.Equal(was.ordered, x.ordered) && slices.Equal(was.loose, x.loose) && (r.onlyFresh() || !slices.Contains(x.loose, true)) {
			for _, k := range r.fresh {
				r.spanOf(was, k)
			}
			if r.strayed {
				r.spanStrays(was)
			}
			r.mem.spans = was
			return was
		}
	}
	for s := range r.src {
		if x.all[s] = noSpan; x.loose[s] {
			x.of[s] = make([]span, len(r.ents))
		}
	}
	r.spanStrays(x)
	for i := range r.ents {
		r.spanOf(x, i)
	}
	return x
}

// spanStrays takes the bursts of tags that nobody owns into the spans.
func (r *run) spanStrays(x *spans) {
	for s := range x.all {
		if x.loose[s] {
			x.all[s] = noSpan
		}
	}
	r.strayBursts(func(_ int, b *race.Burst) { r.widen(x, &x.all[b.Source], b) })
}

// spanOf takes an entrant's bursts into the spans.
func (r *run) spanOf(x *spans, i int) {
	for s := range x.of {
		if x.loose[s] {
			x.of[s][i] = noSpan
		}
	}
	r.ents[i].bursts(func(b *race.Burst) {
		if of := x.of[b.Source]; of != nil {
			r.widen(x, &of[i], b)
		} else {
			r.widen(x, &x.all[b.Source], b)
		}
	})
}

func (r *run) widen(x *spans, o *span, b *race.Burst) {
	first, last := b.First, b.Last()
	if c := &r.src[b.Source]; !x.ordered[b.Source] {
		first, last = c.roughly(first), c.roughly(last)
	}
	o.widen(first, last)
}
