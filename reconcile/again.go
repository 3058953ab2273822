package reconcile

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// dealt is what dealing all reads came to, kept so that a turn in which logs only grew, and
// rulings spoke of single bibs only, deals anew what is more, to those whose it is: the entrants
// stay where they are, and all that rests on nothing that is new is taken as it was.
type dealt struct {
	ents       []entrant
	byBib      map[string]int
	owners     map[string]wearers
	strays     []stray // without what a turn makes of them
	moreStrays int
	loose      loose
	unassigned int // reads of strays,
	ignored    int // and of ignored chips
	sources    []dealtSource
	fresh      []int // entrants who had more reads, or other rulings, in the last turn; nil: all were dealt
	restless   []int // those who didn't stand as it left them
}

type dealtSource struct {
	reads           *race.Reads
	twin            bool
	elsewhere, worn int
}

// keepDealt remembers how the reads were dealt, where that can be gone on with: whose a chip
// is must not hang on the hour, nor which reads were voided on how clocks are laid.
func (r *run) keepDealt(owners map[string]wearers) {
	if r.mem == nil {
		return
	}
	r.mem.dealt = nil
	if r.hours() || len(r.fx.VoidReads) > 0 {
		return
	}
	d := &dealt{ents: r.ents, byBib: r.byBib, owners: owners, strays: slices.Clone(r.strays), moreStrays: r.moreStrays, loose: r.loose,
		unassigned: r.sums.Unassigned, ignored: r.sums.Ignored, sources: make([]dealtSource, len(r.src))}
	for s := range r.src {
		x := &r.src[s]
		d.sources[s] = dealtSource{x.reads, x.twin, x.elsewhere, x.worn}
	}
	r.mem.dealt = d
}

// hours tells whether a chip changes hands during the day.
func (r *run) hours() bool {
	return slices.ContainsFunc(r.fx.Chips, func(c race.Chip) bool { return c.From.Known() || c.To.Known() })
}

// more is one tag that a log has more reads of than in the turn before.
type more struct {
	source, ent int // ent -1: nobody's
	rec         rec // in the log's from and to
	by          int // so many more than before
	isNew       bool
}

// dealAgain deals only what the logs have more than in the turn before; false where that
// doesn't tell all, and everything must be dealt.
func (r *run) dealAgain() bool {
	d := r.mem.dealt
	if d == nil || !r.sameHands {
		return false
	}
	r.byBib = d.byBib
	var all []more
	for s := range r.src {
		x, was := &r.src[s], &d.sources[s]
		if x.twin != was.twin || (x.reads == nil) != (was.reads == nil) {
			return r.dealAnew()
		}
		x.elsewhere, x.worn = was.elsewhere, was.worn
		if x.reads == was.reads || x.twin {
			continue
		}
		var ok bool
		if all, ok = r.moreOf(all, s, was.reads); !ok {
			return r.dealAnew()
		}
	}
	nobodys := func(m more) bool { return m.ent < 0 }
	if strays := slices.DeleteFunc(slices.Clone(all), func(m more) bool { return !nobodys(m) }); len(strays) > 0 {
		if d.moreStrays > 0 || len(d.strays)+len(strays) > mostStrays {
			return r.dealAnew() // which are listed may be others
		}
		d.straysMore(r, strays)
		all, r.strayed = slices.DeleteFunc(all, nobodys), true
	}
	r.ents, r.strays, r.moreStrays, r.loose = d.ents, slices.Clone(d.strays), d.moreStrays, d.loose
	r.again = true
	for _, k := range d.fresh {
		r.ents[k].fresh, r.ents[k].ruled = false, false
	}
	d.fresh = make([]int, 0, len(all))
	for i := range all {
		k := all[i].ent
		if !r.ents[k].fresh {
			d.fresh = append(d.fresh, k)
		}
		r.take(&r.ents[k], &all[i])
		if e := &r.ents[k]; !e.listed && all[i].isNew {
			e.chips = r.readOf(e)
		}
	}
	r.ruleAgain(d)
	r.fresh = d.fresh
	r.sums.Unassigned, r.sums.Ignored = d.unassigned, d.ignored
	for s := range r.src {
		x := &r.src[s]
		if x.twin {
			r.sums.TwinLog += x.reads.Kept
		}
		r.sums.Elsewhere += x.elsewhere
		d.sources[s] = dealtSource{x.reads, x.twin, x.elsewhere, x.worn}
	}
	return true
}

// ruleAgain notes whom rulings that came or went since the turn before concern, and what status they have by now.
func (r *run) ruleAgain(d *dealt) {
	for _, bib := range r.concerned {
		k, ok := d.byBib[bib]
		if !ok {
			continue
		}
		e := &r.ents[k]
		if !e.fresh {
			d.fresh = append(d.fresh, k)
		}
		e.fresh, e.ruled, e.extra = true, true, entrantRulings{}
		if i := slices.IndexFunc(r.fx.Athletes, func(a race.Athlete) bool { return a.Bib == bib }); i >= 0 {
			e.athlete.Status = r.fx.Athletes[i].Status
		}
	}
}

// moreOf appends the tags of a log that have more reads than in the turn before; false where
// one has lost any, is neither somebody's all day nor nobody's, or the log's tags are others.
func (r *run) moreOf(all []more, s int, was *race.Reads) ([]more, bool) {
	x := &r.src[s]
	n := was.Tags.Len()
	if x.reads.Tags.Len() < n {
		return all, false
	}
	ok := true
	x.reads.Tags.Since(&was.Tags, func(i int, t *race.TagReads) bool {
		var old []race.Read
		if i < n {
			b := was.Tags.At(i)
			if b.Tag != t.Tag {
				ok = false
				return false
			}
			old = b.Reads
		}
		lo, hi := r.hereIn(s, t.Reads)
		oldLo, oldHi := r.hereIn(s, old)
		k := r.wears(s, t.Tag)
		if k < 0 && !r.nobodys(s, t.Tag) || lo == hi && oldLo < oldHi || oldLo < oldHi && (t.Reads[lo].At > old[oldLo].At || t.Reads[hi-1].At < old[oldHi-1].At) {
			ok = false
			return false
		}
		x.elsewhere += len(t.Reads) - (hi - lo) - (len(old) - (oldHi - oldLo))
		if i >= n && k >= 0 && (x.system == race.Hand || r.mem.dealt.owners[t.Tag].all >= 0) { // whoever has it by a swap
			x.worn++
		}
		if lo < hi {
			all = append(all, more{s, k, recAt(s, i, lo, hi), hi - lo - (oldHi - oldLo), oldLo == oldHi})
		}
		return true
	})
	return all, ok
}

// dealAnew gives up what dealAgain began; it is false.
func (r *run) dealAnew() bool {
	for s := range r.src {
		r.src[s].elsewhere, r.src[s].worn = 0, 0
	}
	return false
}

// nobodys tells whether a log's tag is on no list, whatever the hour.
func (r *run) nobodys(s int, tag string) bool {
	if r.src[s].system == race.Hand {
		return false
	}
	d := r.mem.dealt
	_, owned := d.owners[tag]
	if !owned && r.in.ZerosDropped {
		_, owned = d.owners[bare(tag)]
	}
	return !owned
}

// straysMore gives tags that nobody owns what logs have more of them.
func (d *dealt) straysMore(r *run, all []more) {
	d.strays = slices.Clone(d.strays)
	for _, m := range all {
		tag := r.tagOf(m.rec)
		i, there := slices.BinarySearchFunc(d.strays, tag, func(x stray, tag string) int { return strings.Compare(x.Tag, tag) })
		if !there {
			_, ignored := r.fx.Ignored[tag]
			d.strays = slices.Insert(d.strays, i, stray{StrayTag: race.StrayTag{Tag: tag, Ignored: ignored, First: race.NoInstant, Last: race.NoInstant}})
		}
		x := &d.strays[i]
		at, has := slices.BinarySearchFunc(x.recs, m.source, func(y rec, source int) int { return int(y.source) - source })
		if x.recs = slices.Clone(x.recs); has {
			x.recs[at] = m.rec
		} else {
			x.recs = slices.Insert(x.recs, at, m.rec)
		}
		if x.Reads += m.by; x.Ignored {
			d.ignored += m.by
		} else {
			d.unassigned += m.by
		}
	}
}

// wears is the entrant whose a log's tag is all day, -1: that isn't so simple.
func (r *run) wears(s int, tag string) int {
	d := r.mem.dealt
	if r.src[s].system == race.Hand {
		if k, ok := d.byBib[tag]; ok && d.ents[k].listed {
			return k
		}
		return -1
	}
	w, ok := d.owners[tag]
	if _, ignored := r.fx.Ignored[tag]; !ok || w.all < 0 && len(w.chips) > 1 || ignored {
		return -1
	}
	k, ok := d.byBib[w.chips[0].Bib]
	if !ok {
		return -1 // who is on no list is an entrant only when they are read
	}
	for _, x := range r.fx.Swaps { // as order exchanges what chips told
		switch a, b := d.byBib[x[0]], d.byBib[x[1]]; k {
		case a:
			k = b
		case b:
			k = a
		}
	}
	return k
}

// take gives an entrant what a log has more of a tag of theirs.
func (r *run) take(e *entrant, m *more) {
	e.fresh = true
	tag := r.tagOf(m.rec)
	at, _ := slices.BinarySearchFunc(e.recs, m.rec, func(x, y rec) int {
		if x.source != y.source {
			return cmp.Compare(x.source, y.source)
		}
		return strings.Compare(r.tagOf(x), tag)
	})
	if !m.isNew {
		e.recs = slices.Clone(e.recs) // what is remembered of them has the others
		e.recs[at] = m.rec
		return
	}
	e.recs = slices.Insert(slices.Clip(e.recs), at, m.rec)
	if !slices.Contains(e.tags, tag) {
		e.tags = append(e.tags[:len(e.tags):len(e.tags)], tag)
		slices.Sort(e.tags)
	}
}
