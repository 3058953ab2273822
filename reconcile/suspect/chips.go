package suspect

import (
	"fmt"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// apartSlack is how far two chips of one body may be read apart at a line besides its
// window: one on each ankle or a hand over one, and the rough clocks of two systems.
const apartSlack = 3000 * race.Millis(1)

// chipsApart: two chips of one bib at different places or times. Two people wear them.
func chipsApart(f *field) []race.Suspect {
	byBib := map[string][]*TagSeen{}
	for n := range f.in.Seen {
		t := &f.in.Seen[n]
		byBib[t.Bib] = append(byBib[t.Bib], t)
	}
	type apart struct {
		result int
		tags   []*TagSeen
		line   int
		d      race.Millis
		lines  int
	}
	var all []apart
	for i := range f.st.Results {
		tags := byBib[f.st.Results[i].Bib]
		for a := range tags {
			for b := range tags[:a] {
				if line, d, n := f.apart(tags[b], tags[a]); n > 0 && (len(all) == 0 || all[len(all)-1].result != i) {
					all = append(all, apart{i, []*TagSeen{tags[b], tags[a]}, line, d, n})
				}
			}
		}
	}
	var found []race.Suspect
	for _, x := range all {
		r := &f.st.Results[x.result]
		weight := race.Hold
		if out(r) {
			weight = race.Look
		}
		s := suspect(race.ChipsApart, weight, r.Bib)
		foreign, with := x.tags[1], ""
		// The chip that goes with another bib's is that bib's; the list's first chip stays
		// where both would do.
		for _, y := range all {
			if y.result == x.result {
				continue
			}
			for _, mine := range []*TagSeen{x.tags[1], x.tags[0]} {
				for _, theirs := range y.tags {
					if with == "" && f.alongside(mine, theirs) {
						foreign, with = mine, f.st.Results[y.result].Bib
					}
				}
			}
		}
		if with != "" {
			foreign = f.second(x.tags)
		}
		s.Tag, s.Line, s.At = foreign.Tag, f.line(x.line), foreign.Passings[0].At
		s.Says = fmt.Sprintf("The chips %s and %s of %s were %s apart at %s (%s)", x.tags[0].Tag, x.tags[1].Tag, r.Bib, short(x.d), f.line(x.line), places(x.lines))
		ignore := "ignore-chip --tag " + arg(foreign.Tag)
		if with != "" {
			s.Says += fmt.Sprintf("; one of them went round with a chip of %s", with)
			s.Proposes = fmt.Sprintf("assign-chip --tag %s --bib %s", arg(foreign.Tag), arg(with))
			s.Others = append(s.Others, ignore)
		} else {
			s.Proposes = ignore
			other := x.tags[0]
			if other == foreign {
				other = x.tags[1]
			}
			s.Others = append(s.Others, "ignore-chip --tag "+arg(other.Tag))
		}
		s.Says += "."
		s.Others = append(s.Others, accept(s.ID))
		tags := []string{x.tags[0].Tag, x.tags[1].Tag}
		s.Evidence = strings.Join(tags, " ") + " " + f.line(x.line)
		found = append(found, s)
	}
	return found
}

func places(n int) string {
	if n == 1 {
		return "one line"
	}
	return fmt.Sprintf("%d lines", n)
}

// apart counts the lines at which two chips were apart, if there are more of those than of
// lines at which they were close; the first such line and how far apart they came there.
func (f *field) apart(a, b *TagSeen) (line int, by race.Millis, n int) {
	line = -1
	near := 0
	for l := range f.plan.Lines {
		close, far, d := f.beside(a, b, l)
		switch {
		case close+far == 0:
		case far > close:
			if line < 0 {
				line, by = l, d
			}
			n++
		default:
			near++
		}
	}
	if near >= n {
		return -1, 0, 0
	}
	return line, by, n
}

// beside counts at one line the passings of the chip that has fewer there: close to one of
// the other's, and far from all. A line of laps is crossed many times, and two bodies come
// close there once in a while. d is how far the first far one was from its nearest.
func (f *field) beside(a, b *TagSeen, line int) (close, far int, d race.Millis) {
	at := func(t *TagSeen) []race.Instant {
		var out []race.Instant
		for _, p := range t.Passings {
			if p.Line == line {
				out = append(out, p.At)
			}
		}
		return out
	}
	few, many := at(a), at(b)
	if len(few) > len(many) {
		few, many = many, few
	}
	if len(few) == 0 {
		return 0, 0, 0
	}
	for _, t := range few {
		best := race.Millis(-1)
		for _, u := range many {
			x := t.Sub(u)
			if x = max(x, -x); best < 0 || x < best {
				best = x
			}
		}
		if best <= f.plan.Lines[line].Window+apartSlack {
			close++
			continue
		}
		if far == 0 {
			d = best
		}
		far++
	}
	return close, far, d
}

// alongside tells whether two chips were close at every line that read both, two at least,
// or at most crossings of one line of laps.
func (f *field) alongside(a, b *TagSeen) bool {
	lines, crossed := 0, 0
	for l := range f.plan.Lines {
		close, far, _ := f.beside(a, b, l)
		if far > close {
			return false
		}
		if close > 0 {
			lines++
			crossed += close
		}
	}
	return lines >= 2 || crossed >= 3
}

// second is whichever of two chips stands later in the list: bands are put together wrongly
// at the second one.
func (f *field) second(tags []*TagSeen) *TagSeen {
	at := func(t *TagSeen) int {
		return slices.IndexFunc(f.in.Chips, func(c race.Chip) bool { return c.Tag == t.Tag && c.Bib == t.Bib })
	}
	if at(tags[0]) > at(tags[1]) {
		return tags[0]
	}
	return tags[1]
}
