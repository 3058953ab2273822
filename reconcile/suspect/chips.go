package suspect

import (
	"fmt"
	"slices"

	"twinmat/reconcile/race"
)

// apartSlack is how far two chips of one body may be read apart at a line besides its
// window: one on each ankle or a hand over one, and the rough clocks of two systems.
const apartSlack = 3000 * race.Millis(1)

// Where the chips of nearly all bibs of a course part, and of several, they are teams: each
// runner of a relay wears one.
const (
	teamsLeast = 3
	teamsShare = 4 // of so many bibs at the most one whose chips stay together
)

// chipsApart: two chips of one bib at different places or times. Two people wear them, and of a
// team they do so rightly.
func chipsApart(f *field) []race.Suspect {
	f.mixed = f.chipsApart()
	return f.mixed
}

func (f *field) chipsApart() []race.Suspect {
	all := f.partedChips()
	if len(all) == 0 {
		return nil
	}
	teams := f.teams(all)
	all = slices.DeleteFunc(all, func(x parted) bool {
		c := f.st.Results[x.result].Course
		return slices.Contains(teams, c) || c < 0 && len(teams) > 0 // whom the list lacks is told by itself, and may be a team
	})
	var found []race.Suspect
	for n := range all {
		x := &all[n]
		with, of := f.whoseBand(x, all), (*TagSeen)(nil)
		if with == "" {
			with, of = f.whoLacks(x)
		}
		found = append(found, f.tellParted(x, with, of))
	}
	return found
}

// parted are two chips of one bib that were apart.
type parted struct {
	result int
	tags   [2]*TagSeen
	line   int         // the first at which they were,
	by     race.Millis // how far,
	lines  int         // and at how many
}

// teams are the courses on which a bib's chips are worn by several.
func (f *field) teams(all []parted) []int {
	part, stay := map[int]int{}, map[int]int{}
	for n := range all {
		part[f.st.Results[all[n].result].Course]++
	}
	for i, tags := range f.in.Seen {
		if x := &f.parting[i]; len(tags) > 1 && x.parted == nil && x.met {
			stay[f.st.Results[i].Course]++
		}
	}
	var teams []int
	for c, n := range part {
		if c >= 0 && n >= teamsLeast && teamsShare*stay[c] <= n+stay[c] {
			teams = append(teams, c)
		}
	}
	return teams
}

// partedChips are the first such two of each bib.
func (f *field) partedChips() []parted {
	if f.parting == nil && f.in.Seen != nil {
		f.parting = make([]parting, len(f.in.Seen))
	}
	var all []parted
	for i, tags := range f.in.Seen {
		if len(tags) < 2 {
			continue
		}
		x := &f.parting[i]
		if x.of != &tags[0] {
			*x = parting{of: &tags[0], parted: f.partedOf(i, tags)}
			x.met = x.parted != nil || f.meet(tags)
		}
		if x.parted != nil {
			all = append(all, *x.parted)
		}
	}
	return all
}

// parting is what was found of chips in an earlier search, and of which.
type parting struct {
	of     *TagSeen
	parted *parted // nil: none of them were
	met    bool    // one line at least read two of them
}

// meet tells whether any line read two of somebody's chips.
func (f *field) meet(tags []TagSeen) bool {
	for a := range tags {
		for b := range tags[:a] {
			for l := range f.plan.Lines {
				if close, far, _ := f.beside(&tags[b], &tags[a], l); close+far > 0 {
					return true
				}
			}
		}
	}
	return false
}

// partedOf are the first two of somebody's chips that were apart.
func (f *field) partedOf(i int, tags []TagSeen) *parted {
	for a := range tags {
		for b := range tags[:a] {
			if line, by, n := f.apart(&tags[b], &tags[a]); n > 0 {
				return &parted{i, [2]*TagSeen{&tags[b], &tags[a]}, line, by, n}
			}
		}
	}
	return nil
}

// whoseBand is the bib of another whose chips are apart, where one of theirs went round with
// one of these: bands were put together wrongly. "" for nobody.
func (f *field) whoseBand(x *parted, all []parted) string {
	for n := range all {
		y := &all[n]
		if y.result == x.result {
			continue
		}
		for _, mine := range x.tags {
			if f.alongside(mine, y.tags[0]) || f.alongside(mine, y.tags[1]) {
				return f.st.Results[y.result].Bib
			}
		}
	}
	return ""
}

// whoLacks is the one bib that was read by two chips fewer than this one and went round with one of
// its chips, and which: of bands that were put together wrongly one is put right already, or a list
// gives one bib a chip of another. "" where nobody or several may be meant.
func (f *field) whoLacks(x *parted) (bib string, of *TagSeen) {
	mine := f.st.Results[x.result]
	if f.wears(x.result) <= 2 {
		return "", nil // nobody has two fewer
	}
	for i, r := range f.st.Results {
		if f.wears(i)+2 > f.wears(x.result) || len(r.Passings) == 0 || r.Course != mine.Course {
			continue
		}
		worn := &TagSeen{}
		for k := range r.Passings {
			if p := &r.Passings[k]; p.Fate != race.Voided && p.At.Known() {
				worn.Passings = append(worn.Passings, Sighting{Line: p.Line, At: p.At})
			}
		}
		for _, t := range x.tags {
			switch {
			case !f.alongside(t, worn):
			case bib != "":
				return "", nil
			default:
				bib, of = r.Bib, t
			}
		}
	}
	return bib, of
}

// tellParted tells of two chips that are apart, and of whose band one went round with; of is that
// one where it is known, nil: the second in the list.
func (f *field) tellParted(x *parted, with string, of *TagSeen) race.Suspect {
	r := f.st.Results[x.result]
	s := suspect(race.ChipsApart, holds(r), r.Bib)
	own, foreign := x.tags[0], x.tags[1]
	if with != "" {
		own, foreign = inOrder(r, x.tags)
	}
	if own == of {
		own, foreign = foreign, own
	}
	s.Tag, s.Line, s.At = foreign.Tag, f.line(x.line), foreign.Passings[0].At
	s.Says = fmt.Sprintf("The chips %s and %s of %s were %s apart at %s (%s)", x.tags[0].Tag, x.tags[1].Tag, r.Bib, short(x.by), f.line(x.line), places(x.lines))
	ignore := ignoreChip(foreign.Tag)
	if with != "" {
		s.Says += fmt.Sprintf("; one of them went round with a chip of %s", with)
		s.Proposes = assignChip(foreign.Tag, with)
		s.Others = append(s.Others, ignore)
	} else {
		s.Proposes = ignore
		s.Others = append(s.Others, ignoreChip(own.Tag))
	}
	s.Says += "."
	s.Others = append(s.Others, accept(s.ID))
	s.Evidence = x.tags[0].Tag + " " + x.tags[1].Tag + " " + f.line(x.line)
	return s
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

// inOrder are two chips of an athlete as they stand in the list: bands are put together wrongly at
// the second one.
func inOrder(r *race.Result, tags [2]*TagSeen) (first, second *TagSeen) {
	if slices.Index(r.Chips, tags[0].Tag) > slices.Index(r.Chips, tags[1].Tag) {
		return tags[1], tags[0]
	}
	return tags[0], tags[1]
}
