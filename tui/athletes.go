package tui

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"twinmat/reconcile/race"
)

// athletes is everybody, sorted or searched; the story of one is an overlay.
type athletes struct {
	*sight
	t      table
	rows   []int32 // indexes in Results
	by     int     // index in orders
	back   bool    // reversed
	query  string
	scored bool // rows are in order of the search, not of by
	index  index
	keys   []sortKey // kept between sorts
}

type sortKey struct {
	key uint64
	at  int32
}

// orders are the ways of sorting: each gives a number that sorts as the column does.
var orders = []struct {
	name string
	key  func(b *book, r *race.Result) uint64
}{
	{"bib", func(_ *book, r *race.Result) uint64 { return bibKey(r.Bib) }},
	{"rank", func(_ *book, r *race.Result) uint64 {
		if r.Rank == 0 {
			return 1 << 62
		}
		return uint64(r.Course)<<40 | uint64(r.Rank)
	}},
	{"name", func(_ *book, r *race.Result) uint64 { return nameKey(r.Name) }},
	{"team", func(_ *book, r *race.Result) uint64 { return nameKey(r.Team) }},
	{"state", func(_ *book, r *race.Result) uint64 {
		return uint64(slices.Index([]string{"held", "running", "clean", "unseen", "dsq", "dnf", "dns"}, r.State) + 1)
	}},
	{"last seen", func(_ *book, r *race.Result) uint64 {
		_, at := reached(r)
		if !at.Known() {
			return 1 << 62
		}
		return 1<<61 - uint64(at)
	}},
}

// bibKey sorts bibs as people count: 9 before 10, figures before letters.
func bibKey(s string) uint64 {
	n := uint64(0)
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 1<<63 | nameKey(s)>>1
		}
		n = n*10 + uint64(s[i]-'0')
		if n > 1<<50 {
			return 1<<63 | nameKey(s)>>1
		}
	}
	return n
}

// nameKey is the first letters of a name as a number: enough to sort by nearly always;
// what it leaves equal is compared in full.
func nameKey(s string) uint64 {
	if s == "" {
		return 1<<64 - 1
	}
	var k uint64
	n := 0
	for _, c := range s {
		c = unicode.ToLower(c)
		if c > 0xffff {
			c = 0xffff
		}
		k = k<<16 | uint64(c)
		if n++; n == 4 {
			return k
		}
	}
	return k << (16 * (4 - n))
}

func newAthletes(s *sight) *athletes {
	return &athletes{sight: s, t: table{cols: []column{
		{head: "bib", w: 6, right: true}, {head: "name", w: 14, stretch: true}, {head: "sex", w: 3, drop: 6}, {head: "cat", w: 5, drop: 7},
		{head: "team", w: 18, drop: 8}, {head: "wave", w: 5, drop: 5}, {head: "state", w: 8}, {head: "last", w: 9, drop: 2},
		{head: "seen", w: 8, drop: 4}, {head: "official", w: 11, right: true}, {head: "rank", w: 5, drop: 1, right: true}, {head: "from", w: 6, drop: 7},
	}}}
}

func (a *athletes) name() string            { return "athletes" }
func (a *athletes) scope() scope            { return onAthletes }
func (a *athletes) list() (*table, listing) { return &a.t, a }
func (a *athletes) Len() int                { return len(a.rows) }
func (a *athletes) ID(i int) string         { return a.book.Results[a.rows[i]].Bib }

func (a *athletes) bib() string {
	if a.t.at < len(a.rows) {
		return a.ID(a.t.at)
	}
	return ""
}

func (a *athletes) sync() {
	if a.query != "" {
		a.rows = a.index.search(a.book, a.query, a.rows[:0])
		a.scored = true
	} else {
		a.sort()
	}
	a.t.sync(a)
}

// sort puts everybody in order of the chosen column: numbers are compared, names only
// where their first letters are the same.
func (a *athletes) sort() {
	a.scored = false
	o := &orders[a.by]
	if cap(a.keys) < len(a.book.Results) {
		a.keys = make([]sortKey, len(a.book.Results))
	}
	a.keys = a.keys[:len(a.book.Results)]
	sorted := true
	for i := range a.book.Results {
		a.keys[i] = sortKey{o.key(a.book, &a.book.Results[i]), int32(i)}
		sorted = sorted && (i == 0 || a.keys[i-1].key < a.keys[i].key)
	}
	full := func(x, y sortKey) int {
		if c := cmp.Compare(x.key, y.key); c != 0 {
			return c
		}
		if c := a.tie(x.at, y.at); c != 0 {
			return c
		}
		return cmp.Compare(x.at, y.at)
	}
	if !sorted {
		slices.SortFunc(a.keys, full)
	}
	a.rows = a.rows[:0]
	for _, k := range a.keys {
		a.rows = append(a.rows, k.at)
	}
	if a.back {
		slices.Reverse(a.rows)
	}
}

func (a *athletes) tie(x, y int32) int {
	switch orders[a.by].name {
	case "name":
		return strings.Compare(a.book.Results[x].Name, a.book.Results[y].Name)
	case "team":
		return strings.Compare(a.book.Results[x].Team, a.book.Results[y].Team)
	}
	return 0
}

// find searches; "" shows everybody again.
func (a *athletes) find(q string) {
	a.query = q
	keep := a.t.id
	a.sync()
	if q != "" {
		a.t.at = 0
		a.t.hold(a)
	} else if keep != "" {
		a.t.selectID(a, keep)
	}
}

func (a *athletes) Mark(l *look, i int) (ink, string) {
	k, sign, _ := stateOf(l, a.book.Results[a.rows[i]].State)
	return k, sign
}

func (a *athletes) Cell(i, col int) (ink, string) {
	r := &a.book.Results[a.rows[i]]
	switch col {
	case 0:
		return strong, r.Bib
	case 1:
		return text, r.Name
	case 2:
		return muted, r.Sex
	case 3:
		return muted, r.Category
	case 4:
		return muted, r.Team
	case 5:
		return muted, waveName(a.book.State, r)
	case 6:
		k, _, word := stateOf(a.look, r.State)
		return k, word
	case 7:
		return text, r.LastSplit
	case 8:
		if _, at := reached(r); at.Known() {
			return muted, clockOf(a.book.State, at)
		}
		return muted, ""
	case 9:
		return strong, span(r.Official)
	case 10:
		return text, number(r.Rank)
	}
	return fromInk(r.From), r.From.String()
}

func (a *athletes) View(w, h int) string {
	p := newPage(a.look, w, h)
	r := p.line()
	if a.query != "" {
		r.put(strong, fmt.Sprintf("%d found", a.Len())).put(muted, " for ").put(accent, a.query).put(muted, "   esc shows everybody")
	} else {
		r.put(strong, plural(a.Len(), "athlete", "athletes")).put(muted, " by "+orders[a.by].name)
		if a.back {
			r.put(muted, ", reversed")
		}
	}
	if a.Len() == 0 {
		p.line()
		p.say(muted, "nobody")
		return p.String()
	}
	if w >= 170 {
		rest := p.left()
		left := newPage(a.look, w/2, rest)
		a.t.draw(left, a, rest)
		right := newPage(a.look, w-left.w-1, rest)
		if x := a.book.result(a.bib()); x != nil {
			tell := telling{sight: a.sight, r: x, at: -1}
			tell.draw(right)
		}
		p.add(beside(a.look, left.done(), right.done()))
		return p.String()
	}
	a.t.draw(p, a, p.left())
	return p.String()
}
