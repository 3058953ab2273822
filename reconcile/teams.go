package reconcile

import (
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// wornAt tells which of a bib's chips each passing was read of, a bit each; nil: it has one. A log that
// read but one of them tells which as well. Who keys a bib reads no chip.
func (r *run) wornAt(e *entrant) []uint32 {
	if len(e.tags) < 2 {
		return nil
	}
	worn := make([]uint32, len(e.passings))
	for i := range e.passings {
		for s, b := range e.passings[i].Bursts {
			if b == nil || race.System(s) == race.Hand {
				continue
			}
			for _, tag := range b.Tags() {
				worn[i] |= bitOf(e.tags, tag)
			}
			if k := slices.IndexFunc(e.recs, func(x rec) bool { return x.source == b.Source && x.at == b.Chip() }); k >= 0 {
				worn[i] |= bitOf(e.tags, r.tagOf(e.recs[k]))
			}
		}
	}
	return worn
}

func bitOf(tags []string, tag string) uint32 {
	if i := slices.Index(tags, tag); i >= 0 {
		return 1 << min(i, 31)
	}
	return 0
}

// chipsOf tells how many chips a bib's passings show, and how they go: of two on one body the first is
// hidden less often than both are read, of a team's two are read together where they change at the most.
func chipsOf(worn []uint32) course.Chips {
	first, both, without := uint32(0), 0, 0
	for _, w := range worn {
		if first == 0 {
			first = w & -w
		}
		switch {
		case w&^first == 0:
		case w&first != 0:
			both++
		default:
			without++
		}
	}
	switch {
	case both == 0 && without == 0:
		return course.OneChip
	case both >= without:
		return course.ChipsTogether
	}
	return course.ChipsApart
}

// waits tells whether a passing is of somebody who stands at the line with a chip of their own until
// another of their team comes: the way there since the bib was last at that line was read of other
// chips alone, of which a later passing there shows one before the bib is read elsewhere again, and no
// other line has read two such together.
func waits(ps []race.Passing, worn []uint32, i int) bool {
	line, way := ps[i].Line, i
	for way > 0 && ps[way-1].Line == line {
		way--
	}
	if way == 0 {
		return false
	}
	from := way
	for from > 0 && ps[from-1].Line != line {
		from--
	}
	came, later, together := uint32(0), uint32(0), uint32(0)
	for k := from; k < way; k++ {
		came |= worn[k]
	}
	for k := i + 1; k < len(ps) && ps[k].Line == line; k++ {
		later |= worn[k]
	}
	for k := range ps {
		if ps[k].Line != line && worn[k]&came != 0 {
			together |= worn[k]
		}
	}
	return worn[i]&came == 0 && later&came != 0 && together&worn[i] == 0
}
