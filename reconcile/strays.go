package reconcile

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// mostStrays are more tags without an owner than anybody can look at: a fair's worth of
// other chips, or a reader gone mad, must not take the memory of the race.
const mostStrays = 10_000

// loose are the reads that nobody owns, while they are dealt. There may be millions of their
// tags, so each takes little until it is known which are listed.
type loose struct {
	index []int32 // by hash, a power of two long and at most half full: the tag's number plus one, 0: none
	tags  blocks[looseTag]
	parts blocks[loosePart]
}

// blocks is a list that is never copied to make room.
type blocks[T any] struct {
	of [][]T
	n  int
}

const (
	blockBits  = 12
	firstBlock = 16
)

func (b *blocks[T]) add(x T) {
	k := b.n >> blockBits
	if k == len(b.of) {
		room := 1 << blockBits
		if k == 0 {
			room = firstBlock
		}
		b.of = append(b.of, make([]T, 0, room))
	}
	b.of[k] = append(b.of[k], x)
	b.n++
}

func (b *blocks[T]) at(i int32) *T { return &b.of[i>>blockBits][i&(1<<blockBits-1)] }

func (b *blocks[T]) each(f func(i int32, x *T)) {
	for i := range int32(b.n) {
		f(i, b.at(i))
	}
}

type looseTag struct {
	tag         string
	recs, reads int32
	listed      int32 // its place among the strays plus one, 0: only counted
	ignored     bool
}

// loosePart is what one log has of a tag, or a part of that: the reads from one to before
// another of the at-th tag of the log.
type loosePart struct{ tag, source, at, from, to int32 }

// stray counts reads that nobody owns: those of the at-th tag of a log from one to before
// another. tag is how it is called.
func (r *run) stray(source, at int, tag string, from, to int, ignored bool) {
	l := &r.loose
	i := l.number(tag)
	if int(i) == l.tags.n {
		l.tags.add(looseTag{tag: tag, ignored: ignored})
	}
	t := l.tags.at(i)
	t.recs++
	t.reads += int32(to - from)
	l.parts.add(loosePart{i, int32(source), int32(at), int32(from), int32(to)})
	if !ignored {
		r.sums.Unassigned += to - from
	}
}

// number finds a tag's number; one that hasn't come yet gets the next, and must be added.
// A map of strings would take five times as much.
func (l *loose) number(tag string) int32 {
	if 2*l.tags.n >= len(l.index) {
		l.index = make([]int32, max(64, 2*len(l.index)))
		l.tags.each(func(i int32, t *looseTag) { *l.slot(t.tag) = i + 1 })
	}
	s := l.slot(tag)
	if *s == 0 {
		*s = int32(l.tags.n) + 1
	}
	return *s - 1
}

// slot is a tag's place in the index, or the free one that it would take.
func (l *loose) slot(tag string) *int32 {
	mask := len(l.index) - 1
	for k := int(race.TagHash(tag)) & mask; ; k = (k + 1) & mask {
		if s := &l.index[k]; *s == 0 || l.tags.at(*s-1).tag == tag {
			return s
		}
	}
}

// listStrays makes strays of the tags that were read at most places, and most often, in
// order of tag; all reads of the others stay counted, and tell how late it is.
func (r *run) listStrays() {
	l := &r.loose
	l.index = nil
	listed := l.most(mostStrays)
	slices.SortFunc(listed, func(a, b int32) int { return strings.Compare(l.tags.at(a).tag, l.tags.at(b).tag) })
	r.moreStrays = l.tags.n - len(listed)
	r.strays = make([]stray, len(listed))
	for n, i := range listed {
		t := l.tags.at(i)
		t.listed = int32(n + 1)
		r.strays[n] = stray{StrayTag: race.StrayTag{Tag: t.tag, Ignored: t.ignored, Reads: int(t.reads), First: race.NoInstant, Last: race.NoInstant},
			recs: make([]rec, 0, t.recs)}
	}
	l.parts.each(func(_ int32, p *loosePart) {
		if n := l.tags.at(p.tag).listed; n > 0 {
			s := &r.strays[n-1]
			s.recs = append(s.recs, rec{source: p.source, at: p.at, from: p.from, to: p.to})
		}
	})
	if r.moreStrays == 0 {
		r.loose = loose{}
	}
}

func (r *run) looseReads(p *loosePart) []race.Read {
	return r.src[p.source].reads.Tags.At(int(p.at)).Reads[p.from:p.to:p.to]
}

// most are the n tags that were read at most places, then most often, then first by name.
func (l *loose) most(n int) []int32 {
	before := func(a, b int32) int {
		x, y := l.tags.at(a), l.tags.at(b)
		return cmp.Or(cmp.Compare(y.recs, x.recs), cmp.Compare(y.reads, x.reads), strings.Compare(x.tag, y.tag))
	}
	best := make([]int32, 0, min(l.tags.n, 2*n))
	worst := int32(-1) // of the n best so far
	for i := range int32(l.tags.n) {
		if worst >= 0 && before(i, worst) > 0 {
			continue
		}
		if best = append(best, i); len(best) == 2*n {
			slices.SortFunc(best, before)
			best = best[:n]
			worst = best[n-1]
		}
	}
	slices.SortFunc(best, before)
	return best[:min(len(best), n)]
}

// unlisted visits what each log has of the tags that are only counted; all of it is one
// burst, the tags are numbered from 0.
func (r *run) unlisted(f func(tag, source int, first, last race.Instant)) {
	r.loose.parts.each(func(_ int32, p *loosePart) {
		if r.loose.tags.at(p.tag).listed == 0 {
			reads := r.looseReads(p)
			f(int(p.tag), int(p.source), reads[0].At, reads[len(reads)-1].At)
		}
	})
}
