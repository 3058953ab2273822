package tui

import (
	"cmp"
	"slices"
	"strings"

	"github.com/sahilm/fuzzy"

	"twinmat/reconcile/race"
)

// More matches than this nobody scrolls through.
const matchesKept = 500

// An index is what a search looks through: for each athlete one lower-case text of bib,
// name, team and chips, and the set of its letters. It is kept from snapshot to snapshot
// and mended where an athlete changed.
type index struct {
	of    *book
	lines []string
	sets  []uint64 // bit per letter or figure: a text without one of the asked can't match
	from  []source
	some  []int32 // candidates of the last search, for String
}

// source is what an index line was made of.
type source struct {
	bib, name, team string
	chips           int
}

// refresh brings the index to a book.
func (x *index) refresh(b *book) {
	if x.of == b {
		return
	}
	n := len(b.Results)
	if len(x.lines) != n {
		x.lines, x.sets, x.from = make([]string, n), make([]uint64, n), make([]source, n)
	}
	for i := range b.Results {
		r := &b.Results[i]
		s := source{r.Bib, r.Name, r.Team, len(r.Passings)}
		if x.from[i] == s && x.lines[i] != "" {
			continue
		}
		x.from[i] = s
		x.lines[i] = strings.ToLower(strings.Join(append([]string{r.Bib, r.Name, r.Team}, chipsOf(r)...), " "))
		x.sets[i] = letters(x.lines[i])
	}
	x.of = b
}

// chipsOf are the chips that an athlete was read with, each once.
func chipsOf(r *race.Result) []string {
	var out []string
	for i := range r.Passings {
		for _, u := range r.Passings[i].Bursts {
			if u == nil {
				continue
			}
			for _, t := range u.Tags {
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

func (x *index) String(i int) string { return x.lines[x.some[i]] }
func (x *index) Len() int            { return len(x.some) }

// search finds athletes: the very bib first, then what holds the text as it stands, then
// what holds its letters in order.
func (x *index) search(b *book, q string, out []int32) []int32 {
	x.refresh(b)
	q = strings.ToLower(strings.TrimSpace(q))
	want := letters(q)
	type hit struct {
		at   int32
		rank int
	}
	var hits []hit
	x.some = x.some[:0]
	for i, l := range x.lines {
		if x.sets[i]&want != want {
			continue
		}
		switch at := strings.Index(l, q); {
		case at == 0 && len(x.from[i].bib) == len(q):
			hits = append(hits, hit{int32(i), 0})
		case at == 0:
			hits = append(hits, hit{int32(i), 1})
		case at > 0 && l[at-1] == ' ':
			hits = append(hits, hit{int32(i), 2})
		case at > 0:
			hits = append(hits, hit{int32(i), 3})
		default:
			x.some = append(x.some, int32(i))
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return cmp.Compare(a.rank, b.rank) })
	for _, h := range hits[:min(len(hits), matchesKept)] {
		out = append(out, h.at)
	}
	if len(out) < matchesKept/4 && len(q) > 1 {
		for _, m := range fuzzy.FindFrom(q, x) {
			if len(out) == matchesKept {
				break
			}
			out = append(out, x.some[m.Index])
		}
	}
	return out
}
