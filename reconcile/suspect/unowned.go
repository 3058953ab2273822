package suspect

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// unowned are the tags that nobody owns and who may, kept from search to search.
type unowned struct {
	tags   []*unknownTag // but for those that are ignored, as the state has them
	ranked []*unknownTag // of them, worth judging, in order of tag
	given  []int         // per ranked one: the owner among its body's, -1: nobody
	chips  *chipList     // that they were judged by
	noise  []float64     // likewise, per line
	found  []race.Suspect
}

// unassignedChip: a tag in the logs that chips.csv gives to no one.
func unassignedChip(f *field) []race.Suspect {
	x := &f.unowned
	another := f.takeTags()
	if len(x.ranked) == 0 {
		f.lacks = lackers{} // nobody asked, and nobody is kept
	} else {
		another = f.judgeAll() || another
	}
	if another {
		x.given = solve(x.ranked)
	}
	for n, t := range x.ranked {
		another = f.tellAgain(t, x.ranked[t.body], x.given[n]) || another
	}
	if !another {
		return x.found
	}
	x.found = nil
	for _, t := range x.ranked {
		x.found = append(x.found, t.told)
	}
	for _, t := range x.tags {
		if t.ps == nil {
			f.tellAgain(t, t, -1)
			x.found = append(x.found, t.told)
		}
	}
	return x.found
}

// takeTags takes the state's tags, and what is known of those that are as they were; whether any
// isn't.
func (f *field) takeTags() bool {
	x := &f.unowned
	var strays []*race.StrayTag
	for n := range f.st.Strays {
		if y := &f.st.Strays[n]; !y.Ignored {
			strays = append(strays, y)
		}
	}
	if len(strays) > 0 && x.chips != f.chipList() {
		*x = unowned{chips: f.chipList()}
	}
	if slices.EqualFunc(x.tags, strays, (*unknownTag).is) {
		for n, t := range x.tags {
			t.stray = strays[n]
		}
		return false
	}
	known := map[string]*unknownTag{}
	for _, t := range x.tags {
		known[t.stray.Tag] = t
	}
	x.tags = nil
	for _, y := range strays {
		t := known[y.Tag]
		if t == nil || !t.is(y) {
			t = &unknownTag{with: companion{result: -1}}
		}
		t.stray = y
		x.tags = append(x.tags, t)
	}
	x.rank()
	f.bodies(x.ranked)
	return true
}

// is tells whether a tag was read as it was.
func (t *unknownTag) is(x *race.StrayTag) bool {
	a, b := t.stray, x
	if a.Tag != b.Tag || a.Reads != b.Reads || a.First != b.First || a.Last != b.Last || len(a.Passings) != len(b.Passings) || !slices.Equal(a.Lines, b.Lines) {
		return false
	}
	return len(a.Passings) == 0 || &a.Passings[0] == &b.Passings[0] || slices.EqualFunc(a.Passings, b.Passings, func(p, q race.Passing) bool {
		return p.At == q.At && p.Line == q.Line && p.Fate == q.Fate
	})
}

// rank chooses the tags worth judging.
func (x *unowned) rank() {
	rich := slices.Clone(x.tags)
	if len(rich) > rankedMost {
		slices.SortStableFunc(rich, func(a, b *unknownTag) int {
			return cmp.Or(cmp.Compare(len(b.stray.Lines), len(a.stray.Lines)), cmp.Compare(len(b.stray.Passings), len(a.stray.Passings)), cmp.Compare(a.stray.Tag, b.stray.Tag))
		})
		for _, t := range rich[rankedMost:] {
			if t.ps != nil {
				*t = unknownTag{stray: t.stray, with: companion{result: -1}}
			}
		}
		rich = rich[:rankedMost]
		slices.SortFunc(rich, func(a, b *unknownTag) int { return cmp.Compare(a.stray.Tag, b.stray.Tag) })
	}
	for n, t := range rich {
		if t.body = n; t.ps == nil {
			t.ps = crossings(t.stray.Passings)
		}
	}
	x.ranked = rich
}

// bodies finds unknown tags that went round together where a bib wears several chips: a
// spare set of two belongs to one athlete.
func (f *field) bodies(tags []*unknownTag) {
	if f.chipsPerBib() < 2 {
		return
	}
	for n, t := range tags {
		for m := range tags[:n] {
			if tags[m].body == m && together(tags[m].ps, t.ps, oneBody) {
				t.body = m
				break
			}
		}
	}
}

// toldAs is what a tag's suspect was told with.
type toldAs struct {
	body         *unknownTag
	moves        int // of its body; 0: nothing was told
	given, wears int
}

// tellAgain tells of a tag, if that is another than before; whether it is.
func (f *field) tellAgain(t, body *unknownTag, given int) bool {
	as := toldAs{body, body.moves + 1, given, 0}
	if w := body.with.result; w >= 0 {
		as.wears = f.wears(w)
	}
	if t.toldAs == as {
		return false
	}
	t.toldAs, t.told = as, f.unassigned(t, body, given)
	return true
}

// judgeAll ranks the owners of each body, anew where what it rests on is another; whether any are
// others than before.
func (f *field) judgeAll() bool {
	x, noise := &f.unowned, f.noise()
	whole := f.lackers().crowds || slices.Contains(f.news.relearnt, true)
	louder := !slices.Equal(x.noise, noise)
	x.noise = noise
	another := false
	for n, t := range x.ranked {
		was := t.moves
		switch {
		case t.body != n:
			t.judged = false
		case whole || !t.judged:
			f.judge(t)
		default:
			f.judgeAgain(t, louder)
		}
		another = another || t.moves != was
	}
	return another
}

// judgeAgain judges a body by what is another.
func (f *field) judgeAgain(t *unknownTag, louder bool) {
	for w, went := range f.news.went {
		if !went {
			continue
		}
		// Those with a gun of their own have stories of their own.
		if s := f.storyIn(t.ps, w, f.plan.Waves[w].Gun); f.lacks.own[w] || !s.equal(&t.stories[w]) {
			f.judge(t)
			return
		}
	}
	if louder || f.metAnother(t) {
		was := t.with
		if f.wear(t); t.with.result >= 0 != (was.result >= 0) {
			f.judge(t)
			return
		}
		t.moves += tally(t.with != was)
	}
	if t.with.result >= 0 {
		return
	}
	for _, i := range f.lacks.moved {
		if k := slices.IndexFunc(t.owners, func(o owner) bool { return o.result == i }); k >= 0 {
			if len(t.owners) == ownersMost {
				f.judge(t) // the next after the last of them isn't known
				return
			}
			t.owners = slices.Delete(t.owners, k, k+1)
			t.moves++
		}
		if f.lacks.lack[i] {
			f.weigh(t, i)
		}
	}
}

// wear finds who wore a tag beside their own chip, and who met it.
func (f *field) wear(t *unknownTag) {
	all := f.metAt(t.ps)
	t.with = f.wornBy(all, t.ps, f.unowned.noise)
	t.met = t.met[:0]
	for _, m := range all {
		if n := len(t.met); n == 0 || t.met[n-1] != m.result {
			t.met = append(t.met, m.result)
		}
	}
}

// metAnother tells whether somebody who met a tag, or does now, is another.
func (f *field) metAnother(t *unknownTag) bool {
	return fewChanged*len(f.news.moved) > len(f.st.Results) || slices.ContainsFunc(f.news.moved, func(i int) bool {
		_, met := slices.BinarySearch(t.met, i)
		return met || f.meets(i, t.ps)
	})
}

// meets tells whether an athlete crossed a line within a body's reach of a tag.
func (f *field) meets(i int, ps []race.Passing) bool {
	return slices.ContainsFunc(f.st.Results[i].Passings, func(p race.Passing) bool {
		return p.At.Known() && p.Fate != race.Voided && slices.ContainsFunc(ps, func(q race.Passing) bool {
			d := p.At.Sub(q.At)
			return p.Line == q.Line && max(d, -d) <= oneBody
		})
	})
}
