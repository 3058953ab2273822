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
	if s.hollow {
		l.showAllTags(r)
		return
	}
	known := r.Tags.Len()
	edit := r.Tags.Edit(len(s.tags))
	for i := known; i < len(s.tags); i++ {
		edit.At(i).Tag = l.tags.name(s.numbers[i])
	}
	for _, tag := range s.changed {
		t, given := &s.tags[tag], edit.At(int(tag))
		reads, twice := s.show(t, given.Reads)
		r.Kept += len(reads) - len(given.Reads)
		r.Repeated += twice - given.Twice
		given.Reads, given.Twice = reads[:len(reads):len(reads)], twice
		t.changed = false
	}
	r.Tags = edit.List()
	s.changed = s.changed[:0]
}

// showAllTags makes the list anew without tags that have no reads: those of a layout that
// was given up.
func (l *Log) showAllTags(r *race.Reads) {
	s := &l.store
	shown := make(map[string][]race.Read, r.Tags.Len())
	for given := range r.Tags.All() {
		shown[given.Tag] = given.Reads
	}
	var tags []race.TagReads
	r.Kept, r.Repeated = 0, 0
	for i := range s.tags {
		t, name := &s.tags[i], l.tags.name(s.numbers[i])
		reads, twice := s.show(t, shown[name])
		t.changed = false
		if len(reads) == 0 {
			continue
		}
		tags = append(tags, race.TagReads{Tag: name, Reads: reads[:len(reads):len(reads)], Twice: twice})
		r.Kept += len(reads)
		r.Repeated += twice
	}
	r.Tags = race.TagsOf(tags...)
	s.changed = s.changed[:0]
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
