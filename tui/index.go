package tui

import (
	"slices"
	"strings"

	"github.com/sahilm/fuzzy"

	"twinmat/reconcile/race"
)

// More matches than this nobody scrolls through.
const matchesKept = 500

// An index is what a search looks through: for each athlete one lower-case text of bib,
// name, team and chips, and the set of its letters. It is made with the book, away from
// the program's loop, and never changed after; what hasn't changed is taken over from the
// one before.
type index struct {
	of    *roster
	lines []string
	sets  []uint64 // bit per letter or figure: a text without one of the asked can't match
	bibs  []uint8  // how long the bib is that a text begins with
}

// newIndex indexes a snapshot: of the same roster as before, those who changed since.
func newIndex(st *race.State, of *roster, prev *index, before *race.State, changed []int) *index {
	if prev == nil || prev.of != of {
		n := len(st.Results)
		x := &index{of, make([]string, n), make([]uint64, n), make([]uint8, n)}
		for i, r := range st.Results {
			x.lines[i], x.bibs[i] = textOf(r), uint8(min(len(r.Bib), 255))
			x.sets[i] = letters(x.lines[i])
		}
		return x
	}
	x, other := *prev, false
	for _, i := range changed {
		if sameChips(before.Results[i], st.Results[i]) {
			continue
		}
		text := textOf(st.Results[i])
		if text == x.lines[i] {
			continue
		}
		if !other {
			x.lines, x.sets, other = slices.Clone(x.lines), slices.Clone(x.sets), true
		}
		x.lines[i], x.sets[i] = text, letters(text)
	}
	return &x
}

// sameChips tells at a glance that two results' chips are the same: those that are theirs, and
// the very bursts.
func sameChips(a, b *race.Result) bool {
	if !slices.Equal(a.Chips, b.Chips) || len(a.Passings) != len(b.Passings) {
		return false
	}
	for k := range a.Passings {
		if a.Passings[k].Bursts != b.Passings[k].Bursts {
			return false
		}
	}
	return true
}

func textOf(r *race.Result) string {
	return strings.ToLower(strings.Join(append([]string{r.Bib, r.Name, r.Team}, chipsOf(r)...), " "))
}

// chipsOf are the chips that are an athlete's, and those that they were read with, each once.
func chipsOf(r *race.Result) []string {
	out := slices.Clone(r.Chips)
	for i := range r.Passings {
		for _, u := range r.Passings[i].Bursts {
			if u == nil {
				continue
			}
			for _, t := range u.Tags() {
				if !slices.Contains(out, t) {
					out = append(out, t)
				}
			}
		}
	}
	return out
}

func letters(s string) uint64 {
	var m uint64
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z':
			m |= 1 << (c - 'a')
		case c >= '0' && c <= '9':
			m |= 1 << (26 + c - '0')
		case c >= 0x80:
			m |= 1 << (36 + c%16)
		}
	}
	return m
}

// candidates are those of an index that hold all letters asked for; kept between searches.
type candidates struct {
	x  *index
	at []int32
}

func (c *candidates) String(i int) string { return c.x.lines[c.at[i]] }
func (c *candidates) Len() int            { return len(c.at) }

// search finds athletes: the very bib first, then what holds the text as it stands, then
// what holds its letters in order. Figures are meant as they are typed.
func (x *index) search(q string, out []int32, rest *candidates) []int32 {
	q = strings.ToLower(strings.TrimSpace(q))
	want := letters(q)
	loose := len(q) > 1 && !strings.ContainsAny(q, "0123456789")
	var ranked [4][]int32
	rest.x, rest.at = x, rest.at[:0]
	for i, l := range x.lines {
		if x.sets[i]&want != want {
			continue
		}
		at := strings.Index(l, q)
		switch {
		case at < 0:
			if loose {
				rest.at = append(rest.at, int32(i))
			}
			continue
		case at == 0 && int(x.bibs[i]) == len(q):
			ranked[0] = append(ranked[0], int32(i))
		case at == 0:
			ranked[1] = append(ranked[1], int32(i))
		case l[at-1] == ' ':
			ranked[2] = append(ranked[2], int32(i))
		default:
			ranked[3] = append(ranked[3], int32(i))
		}
	}
	for _, r := range ranked {
		out = append(out, r[:min(len(r), matchesKept-len(out))]...)
	}
	if loose && len(out) < matchesKept/4 {
		for _, m := range fuzzy.FindFrom(q, rest) {
			if len(out) == matchesKept {
				break
			}
			out = append(out, rest.at[m.Index])
		}
	}
	return out
}
