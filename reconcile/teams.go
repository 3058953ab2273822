package reconcile

import (
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// chipsOf tells how many chips a bib's passings show, and how they go.
func chipsOf(ps []race.Passing) course.Chips {
	first, of := "", course.OneChip
	for i := range ps {
		for _, b := range ps[i].Bursts {
			if b == nil {
				continue
			}
			for _, tag := range b.Tags() {
				switch {
				case first == "":
					first = tag
				case tag == first:
				case hasTag(&ps[i], first):
					return course.ChipsTogether
				default:
					of = course.ChipsApart
				}
			}
		}
	}
	return of
}

// wornAt tells which of a bib's chips a passing was read of, a bit each.
func wornAt(p *race.Passing, tags []string) (worn uint32) {
	for i, tag := range tags {
		if hasTag(p, tag) {
			worn |= 1 << min(i, 31)
		}
	}
	return worn
}

// waits tells whether a passing is of somebody who stands at the line with a chip of their own until
// another of their team comes: the way there since the bib was last at that line was read of other
// chips alone, of which a later passing there shows one before the bib is read elsewhere again, and no
// other line has read two such together.
func waits(ps []race.Passing, i int) bool {
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
	came := ps[from:way]
	here := func(p race.Passing) bool { return shareTag(&p, &ps[i]) }
	brought := func(p race.Passing) bool {
		return slices.ContainsFunc(came, func(q race.Passing) bool { return shareTag(&p, &q) })
	}
	to := i + 1
	for to < len(ps) && ps[to].Line == line {
		to++
	}
	return !slices.ContainsFunc(came, here) && slices.ContainsFunc(ps[i+1:to], brought) &&
		!slices.ContainsFunc(ps, func(p race.Passing) bool { return p.Line != line && here(p) && brought(p) })
}

// shareTag tells whether two passings were read of one chip.
func shareTag(p, q *race.Passing) bool {
	return slices.ContainsFunc(p.Bursts[:], func(b *race.Burst) bool {
		return b != nil && slices.ContainsFunc(b.Tags(), func(tag string) bool { return hasTag(q, tag) })
	})
}
