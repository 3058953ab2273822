package logs

import (
	"slices"

	"twinmat/reconcile/race"
)

// store holds a log's reads by tag. New ones are put down in order of arrival (fresh) and
// sorted in by sortIn, which touches only the tags that have new ones.
type store struct {
	rank []int // by file: its place in the order of paths

	freshReads [][]race.Read // full blocks
	freshTags  [][]uint32    // the tag of each: until sortIn its number in the table
	nowReads   []race.Read   // the block being filled
	nowTags    []uint32
	fresh      int // how many in all blocks

	local   []uint32 // by number in the tag table: index in tags + 1, 0: not in this log yet
	numbers []uint32 // by tag: its number in the tag table
	pend    []uint32 // by tag: how many in fresh
	touched []uint32 // tags with any, in order of the first
	tags    race.TagEdit
	rare    map[uint32]*rareState // by tag
	changed []uint32              // tags whose reads changed since the last snapshot
	marked  []bool                // by tag: it is among changed
	named   int                   // so many tags have their names

	kept, twice int // what the tags that haven't changed had in the last snapshot

	block  []race.Read       // scratch
	spare  *scratch          // blocks to use again, nil: none
	drop   bool              // repeats are counted but not kept: no file will be taken back or begun again
	hollow bool              // there are tags without reads
	gone   [maxFiles + 1]int // by file: lines of earlier contents that the present one lacks
}

const (
	blockLen = 1 << 14
	// So many fresh reads are sorted in without waiting for a snapshot: it bounds the
	// memory that holds them twice.
	maxFresh = 1 << 21
)

// scratch is memory that logs read one after the other use again.
type scratch struct {
	reads [][]race.Read
	tags  [][]uint32
	table [2]*tagTable // of tags, of bibs
	piece []byte

	// Of the store that is read now; the next one has them emptied.
	local, numbers, pend, touched, changed []uint32
	marked                                 []bool
}

// lend gives a new store the memory.
func (c *scratch) lend(s *store) {
	clear(c.local)
	s.spare = c
	s.local, s.numbers, s.pend = c.local, c.numbers[:0], c.pend[:0]
	s.touched, s.changed, s.marked = c.touched[:0], c.changed[:0], c.marked[:0]
}

// takeBack ends the store's use of the memory.
func (c *scratch) takeBack(s *store) {
	c.local, c.numbers, c.pend = s.local, s.numbers, s.pend
	c.touched, c.changed, c.marked = s.touched, s.changed, s.marked
	*s = store{}
}

// add puts a read down. number is the tag's in the tag table.
func (s *store) add(number uint32, r race.Read) {
	if len(s.nowReads) == cap(s.nowReads) {
		s.grow()
	}
	s.nowReads = append(s.nowReads, r)
	s.nowTags = append(s.nowTags, number)
	s.fresh++
}

// grow begins a block. The first is small: a live log gets a few reads at a time.
func (s *store) grow() {
	if s.fresh >= maxFresh {
		s.sortIn()
	}
	if len(s.nowReads) > 0 {
		s.freshReads, s.freshTags = append(s.freshReads, s.nowReads), append(s.freshTags, s.nowTags)
	}
	n := min(64<<(2*min(len(s.freshReads), 8)), blockLen)
	if s.spare != nil {
		if s.nowReads, s.nowTags = s.spare.block(); s.nowReads != nil {
			return
		}
		n = blockLen
	}
	s.nowReads, s.nowTags = make([]race.Read, 0, n), make([]uint32, 0, n)
}

// block takes a block that is free, nil: there is none.
func (c *scratch) block() (reads []race.Read, tags []uint32) {
	n := len(c.reads) - 1
	if n < 0 {
		return nil, nil
	}
	reads, tags = c.reads[n], c.tags[n]
	c.reads, c.tags = c.reads[:n], c.tags[:n]
	return reads, tags
}

// sortIn brings the fresh reads to their tags.
func (s *store) sortIn() {
	if s.fresh == 0 {
		return
	}
	s.freshReads, s.freshTags = append(s.freshReads, s.nowReads), append(s.freshTags, s.nowTags)
	for _, numbers := range s.freshTags {
		s.count(numbers)
	}
	if len(s.pend) > s.tags.Len() {
		s.tags.Grow(len(s.pend))
	}
	block, newOnes := s.roomFor()
	at := uint32(0)
	for _, t := range s.touched {
		n := s.pend[t]
		s.pend[t] = at
		at += n
	}
	for b, reads := range s.freshReads {
		tags := s.freshTags[b]
		for i, r := range reads {
			t := tags[i]
			block[s.pend[t]] = r
			s.pend[t]++
		}
	}
	from := uint32(0)
	for _, t := range s.touched {
		to := s.pend[t]
		s.pend[t] = 0
		s.absorb(t, block[from:to:to], newOnes)
		from = to
	}
	s.touched = emptied(s.touched)
	s.emptyFresh()
}

// count makes numbers in the table the log's own, and counts the reads of each tag.
func (s *store) count(numbers []uint32) {
	for i, number := range numbers {
		if n := int(number) + 1 - len(s.local); n > 0 {
			s.local = append(s.local, make([]uint32, n)...)
		}
		tag := s.local[number] - 1
		if tag+1 == 0 {
			tag = uint32(len(s.numbers))
			s.local[number] = tag + 1
			s.numbers = append(s.numbers, number)
			s.pend, s.marked = append(s.pend, 0), append(s.marked, false)
		}
		numbers[i] = tag
		if s.pend[tag] == 0 {
			s.touched = append(s.touched, tag)
		}
		s.pend[tag]++
	}
}

// roomFor is a block for all fresh reads. Where most are of tags that have none yet the
// block becomes theirs (own); else it is scratch.
func (s *store) roomFor() (block []race.Read, own bool) {
	first := 0
	for _, t := range s.touched {
		if !s.read(t) {
			first += int(s.pend[t])
		}
	}
	if s.fresh >= 1024 && 2*first >= s.fresh {
		return make([]race.Read, s.fresh), true
	}
	if cap(s.block) < s.fresh {
		s.block = make([]race.Read, s.fresh)
	}
	return s.block[:s.fresh], false
}

// emptied is a list to fill again; a great one, of a log that is read from its beginning, is
// let go.
func emptied(list []uint32) []uint32 {
	if cap(list) > blockLen {
		return nil
	}
	return list[:0]
}

// emptyFresh keeps the smallest block for the next reads, or hands all back.
func (s *store) emptyFresh() {
	s.fresh = 0
	s.nowReads, s.nowTags = s.freshReads[0][:0], s.freshTags[0][:0]
	if s.spare != nil {
		for i := range s.freshReads {
			s.spare.reads = append(s.spare.reads, s.freshReads[i][:0])
			s.spare.tags = append(s.spare.tags, s.freshTags[i][:0])
		}
		s.nowReads, s.nowTags = nil, nil
	}
	clear(s.freshReads)
	clear(s.freshTags)
	s.freshReads, s.freshTags = s.freshReads[:0], s.freshTags[:0]
	if cap(s.block) > maxFresh/8 {
		s.block = nil
	}
}

// absorb sorts a tag's new reads in. own: seg may be kept as it is.
func (s *store) absorb(tag uint32, seg []race.Read, own bool) {
	s.mark(tag)
	s.sort(seg)
	kept, _ := s.of(tag)
	switch {
	case len(*kept) == 0 && own:
		*kept = s.single(tag, seg)
	case len(*kept) == 0 || seg[0].At > (*kept)[len(*kept)-1].At:
		// What stands past the end of a slice that was given out is nobody's yet.
		n := len(*kept)
		all := append(*kept, seg...)
		*kept = all[:n+len(s.single(tag, all[n:]))]
	default:
		if seg = s.news(tag, *kept, seg); len(seg) > 0 {
			*kept = s.single(tag, s.merge(*kept, seg))
		}
	}
}

// news are the reads of seg that don't merely repeat what is kept, so that a log
// downloaded again leaves the slices given out as they are.
func (s *store) news(tag uint32, kept, seg []race.Read) []race.Read {
	n, from := 0, 0
	for _, x := range seg {
		at, found := slices.BinarySearchFunc(kept[from:], x, compareSame)
		from += at
		if found && s.compare(kept[from], x) < 0 {
			s.repeat(tag, x)
			continue
		}
		seg[n] = x
		n++
	}
	return seg[:n]
}

func (s *store) repeat(tag uint32, x race.Read) {
	_, twice := s.of(tag)
	*twice++
	if !s.drop {
		rare := s.rarely(tag)
		rare.twins = append(rare.twins, x)
	}
}

func (s *store) mark(tag uint32) {
	if !s.marked[tag] {
		s.marked[tag] = true
		s.changed = append(s.changed, tag)
		shown := s.tags.Peek(int(tag))
		s.kept -= len(shown.Reads)
		s.twice -= shown.Twice
	}
}

// single moves repeats out of a sorted slice, in place.
func (s *store) single(tag uint32, r []race.Read) []race.Read {
	n := 0
	for i := range r {
		if n > 0 && same(r[n-1], r[i]) {
			s.repeat(tag, r[i])
			continue
		}
		if n != i {
			r[n] = r[i]
		}
		n++
	}
	return r[:n]
}

// same tells whether two reads of one tag are one: the same time, antenna and strength.
func same(a, b race.Read) bool {
	return a.At == b.At && a.Antenna == b.Antenna && a.RSSI == b.RSSI
}

// compare orders by time, antenna, strength, path and line.
func (s *store) compare(a, b race.Read) int {
	switch {
	case a.At != b.At:
		if a.At < b.At {
			return -1
		}
		return 1
	case a.Antenna != b.Antenna:
		return int(a.Antenna) - int(b.Antenna)
	case a.RSSI != b.RSSI:
		return int(a.RSSI) - int(b.RSSI)
	case a.File != b.File:
		return s.rank[a.File] - s.rank[b.File]
	}
	return int(int64(a.Line) - int64(b.Line))
}

// sort orders reads that mostly are in order already. Lines out of place are rarely so by
// more than a few; where they are, the general sort takes over.
func (s *store) sort(r []race.Read) {
	moves := 0
	for i := 1; i < len(r); i++ {
		x := r[i]
		if x.At > r[i-1].At {
			continue
		}
		j := i
		for j > 0 && s.compare(x, r[j-1]) < 0 {
			r[j] = r[j-1]
			j--
		}
		r[j] = x
		if moves += i - j; moves > 8*len(r) {
			slices.SortFunc(r, s.compare)
			return
		}
	}
}

func (s *store) merge(a, b []race.Read) []race.Read {
	out := make([]race.Read, 0, len(a)+len(b)+(len(a)+len(b))/8)
	for len(a) > 0 && len(b) > 0 {
		if s.compare(b[0], a[0]) < 0 {
			out, b = append(out, b[0]), b[1:]
		} else {
			out, a = append(out, a[0]), a[1:]
		}
	}
	return append(append(out, a...), b...)
}
