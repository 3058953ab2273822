package logs

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// Reads is all that the log holds so far. The snapshot and what it points to never change;
// where nothing has changed it is the one given before, and a tag whose reads are the same
// has the same slice. The cost is that of the tags that have new reads.
func (l *Log) Reads() *race.Reads {
	for _, f := range l.files {
		l.tryLayout(f)
	}
	l.alignDays()
	s := &l.store
	s.sortIn()
	if l.given != nil && !l.dirty && len(s.changed) == 0 {
		return l.given
	}
	r := &race.Reads{Source: l.source}
	if l.given != nil {
		r.Kept, r.Repeated, r.Tags = l.given.Kept, l.given.Repeated, l.given.Tags
	}
	l.showTags(r)
	l.showFiles(r)
	r.Antennas = l.ants.labels[:len(l.ants.labels):len(l.ants.labels)]
	r.Lines = r.Kept + r.Repeated + r.BadLines + r.Waiting
	l.given, l.dirty = r, false
	return r
}

// showTags brings the changed tags into the list. The list given before is left as it is.
func (l *Log) showTags(r *race.Reads) {
	s := &l.store
	if len(s.changed) == 0 {
		return
	}
	for ; s.named < s.tags.Len(); s.named++ {
		s.tags.At(s.named).Tag = l.tags.name(s.numbers[s.named])
	}
	for _, tag := range s.changed {
		t := s.tags.At(int(tag))
		switch rare := s.rare[tag]; {
		case rare == nil || !rare.apart:
		case rare.old == nil:
			s.together(tag, rare)
		default:
			t.Reads, t.Twice = s.show(rare, t.Reads)
		}
		s.kept += len(t.Reads)
		s.twice += t.Twice
		s.marked[tag] = false
	}
	s.changed = emptied(s.changed)
	r.Kept, r.Repeated, r.Tags = s.kept, s.twice, s.tags.List()
	if s.hollow {
		r.Tags = withReads(&r.Tags)
	}
}

// withReads leaves out tags that have none: those of a layout that was given up.
func withReads(all *race.TagList) race.TagList {
	var tags []race.TagReads
	for t := range all.All() {
		if len(t.Reads) > 0 {
			tags = append(tags, *t)
		}
	}
	return race.TagsOf(tags...)
}

// showFiles tells of the files and their bad lines.
func (l *Log) showFiles(r *race.Reads) {
	order := make([]int, len(l.files))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(l.rank[a], l.rank[b]) })
	r.Files = make([]race.File, len(l.files))
	for _, i := range order {
		f := l.files[i]
		bad, gone := union(f.old, f.bad)
		r.BadLines += bad.n
		slices.SortStableFunc(bad.kept, func(a, b race.BadLine) int { return cmp.Compare(a.Line, b.Line) })
		if room := maxBad - len(r.Bad); room > 0 {
			r.Bad = append(r.Bad, bad.kept[:min(room, len(bad.kept))]...)
		}
		r.Files[i] = race.File{Path: f.path, Lines: int(f.lines.number), Gone: gone + l.store.gone[f.index]}
		if !f.final && (f.lines.open() || f.dec.held()) {
			r.Waiting++
		}
	}
}
