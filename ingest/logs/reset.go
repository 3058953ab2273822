package logs

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// Reset says that the file is begun again from byte 0. What its contents gave before stays
// known: each line counts as often as in the content that had it most. A last line that
// never got its newline gave nothing.
func (l *Log) Reset(file int) {
	f := l.files[file]
	l.settle(f)
	l.dirty = true
	s := &l.store
	s.take(f.index, func(_ uint32, tag *rareState, of []race.Read) { tag.old = s.most(tag.old, of) })
	f.old, _ = union(f.old, f.bad)
	f.bad = badLines{}
	f.dec = decoder{odd: -1}
	f.lines = lines{carry: f.lines.carry[:0]}
	f.chain = chain{latest: farPast}
	f.lay, f.headers, f.final, f.open = nil, 0, false, false
}

// most is the union of two sorted lists with repeats: of each file's equal reads as many
// as in the list that has more, those of now first.
func (s *store) most(old, now []race.Read) []race.Read {
	var out []race.Read
	s.groups(old, now, func(a, b []race.Read) {
		out = append(out, b...)
		lacking(a, b, func(r race.Read) { out = append(out, r) })
	})
	s.sort(out)
	return out
}

// lacking visits the reads of a that are past the number that b has of their file.
func lacking(a, b []race.Read, visit func(race.Read)) {
	var have [maxFiles + 1]int
	for _, r := range b {
		have[r.File]++
	}
	for _, r := range a {
		if have[r.File] > 0 {
			have[r.File]--
			continue
		}
		visit(r)
	}
}

// groups walks two sorted lists by equal reads.
func (s *store) groups(a, b []race.Read, visit func(a, b []race.Read)) {
	for len(a) > 0 || len(b) > 0 {
		var head race.Read
		if len(b) == 0 || len(a) > 0 && compareSame(a[0], b[0]) <= 0 {
			head = a[0]
		} else {
			head = b[0]
		}
		i, j := 0, 0
		for i < len(a) && same(a[i], head) {
			i++
		}
		for j < len(b) && same(b[j], head) {
			j++
		}
		visit(a[:i], b[:j])
		a, b = a[i:], b[j:]
	}
}

func compareSame(a, b race.Read) int {
	return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Antenna, b.Antenna), cmp.Compare(a.RSSI, b.RSSI))
}

// show is the reads and repeats over all contents of the files of a tag whose reads are kept
// apart. It accounts for the lines that are gone. shown is what was given before.
func (s *store) show(t *rareState, shown []race.Read) (reads []race.Read, twice int) {
	gone := make(map[uint8]int)
	now := slices.Concat(t.kept, t.twins)
	s.sort(now)
	s.groups(t.old, now, func(a, b []race.Read) {
		n := len(b)
		lacking(a, b, func(r race.Read) {
			n++
			gone[r.File]++
		})
		one := a
		if len(b) > 0 {
			one = b
		}
		reads = append(reads, one[0])
		twice += n - 1
	})
	if slices.Equal(reads, shown) {
		reads = shown
	}
	for f, n := range t.gone {
		s.gone[f] -= n
	}
	for f, n := range gone {
		s.gone[f] += n
	}
	t.gone = gone
	return reads, twice
}
