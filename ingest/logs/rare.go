package logs

import (
	"slices"

	"twinmat/reconcile/race"
)

// rareState is what only a tag with repeats, or of files begun again, needs.
type rareState struct {
	twins []race.Read   // the lines that repeat one of its reads, in any order
	old   []race.Read   // of files' contents before they were begun again, repeats too, sorted
	gone  map[uint8]int // what this tag adds to the store's gone

	apart bool        // its reads are here: what the list holds is what is shown
	kept  []race.Read // sorted, each time, antenna and strength once
	twice int         // how many lines repeat one of them
}

func (s *store) rarely(tag uint32) *rareState {
	r := s.rare[tag]
	if r == nil {
		if s.rare == nil {
			s.rare = map[uint32]*rareState{}
		}
		r = &rareState{}
		s.rare[tag] = r
	}
	return r
}

// of is a tag's reads, sorted, each time, antenna and strength once, and how many lines
// repeat one of them. Both are to be changed.
func (s *store) of(tag uint32) (*[]race.Read, *int) {
	if len(s.rare) > 0 {
		if r := s.rare[tag]; r != nil && r.apart {
			return &r.kept, &r.twice
		}
	}
	t := s.tags.At(int(tag))
	return &t.Reads, &t.Twice
}

// read tells whether a tag has reads.
func (s *store) read(tag uint32) bool {
	if len(s.rare) > 0 {
		if r := s.rare[tag]; r != nil && r.apart {
			return len(r.kept) > 0
		}
	}
	return len(s.tags.Peek(int(tag)).Reads) > 0
}

// setApart keeps a tag's reads from now on beside what is shown of it.
func (s *store) setApart(tag uint32) *rareState {
	r := s.rarely(tag)
	if !r.apart {
		t := s.tags.Peek(int(tag))
		r.kept, r.twice, r.apart = t.Reads, t.Twice, true
	}
	return r
}

// together ends that: what is shown is what is kept again.
func (s *store) together(tag uint32, r *rareState) {
	t := s.tags.At(int(tag))
	t.Reads, t.Twice = r.kept, r.twice
	r.apart, r.kept = false, nil
	if r.twins == nil {
		delete(s.rare, tag)
	}
}

// take removes a file's reads and gives each tag's to what, sorted. What such a tag has left
// is kept apart from what was shown of it.
func (s *store) take(file uint8, what func(tag uint32, kept *rareState, of []race.Read)) {
	s.sortIn()
	for i := range uint32(s.tags.Len()) {
		kept := s.tags.Peek(int(i)).Reads
		rare := s.rare[i]
		var twins []race.Read
		if rare != nil {
			if twins = rare.twins; rare.apart {
				kept = rare.kept
			}
		}
		if !slices.ContainsFunc(kept, func(r race.Read) bool { return r.File == file }) &&
			!slices.ContainsFunc(twins, func(r race.Read) bool { return r.File == file }) {
			continue
		}
		var of, rest []race.Read
		for _, part := range [][]race.Read{kept, twins} {
			for _, r := range part {
				if r.File == file {
					of = append(of, r)
				} else {
					rest = append(rest, r)
				}
			}
		}
		s.mark(i)
		rare = s.setApart(i)
		rare.twins, rare.twice = nil, 0
		s.sort(rest)
		rare.kept = s.single(i, rest)
		s.sort(of)
		what(i, rare, of)
	}
}

func (s *store) remove(file uint8) {
	s.take(file, func(uint32, *rareState, []race.Read) {})
	s.hollow = true
}
