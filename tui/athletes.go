package tui

import (
	"fmt"
	"slices"
	"strings"

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
	some   candidates
	strays strays
	in     order     // what rows are in, where that still holds
	keys   []sortKey // kept between sorts, spare too
	spare  []sortKey
}

// order is what a sort rests on, where it rests on no more.
type order struct {
	of   *roster
	by   int
	back bool
}

type sortKey struct {
	key, more uint64 // more: the letters after those in key
	at        int32
}

// orders are the ways of sorting: each gives a number, of the athlete at a place, that sorts as the column does.
var orders = []struct {
	name  string
	key   func(b *book, i int) uint64
	word  func(r *race.Result) string // what key is the beginning of, nil: a number
	lasts bool                        // the same for the same roster
}{
	{"bib", func(b *book, i int) uint64 { return bibKey(b.Results[i].Bib) }, nil, true},
	{"rank", func(b *book, i int) uint64 {
		rank := b.Ranks[i].All
		if rank == 0 {
			return 1 << 62
		}
		return uint64(b.Results[i].Course)<<40 | uint64(rank)
	}, nil, false},
	{"name", func(b *book, i int) uint64 { return nameKey(b.Results[i].Name) }, func(r *race.Result) string { return r.Name }, true},
	{"team", func(b *book, i int) uint64 { return nameKey(b.Results[i].Team) }, func(r *race.Result) string { return r.Team }, true},
	{"state", func(b *book, i int) uint64 {
		return uint64(slices.Index([]string{race.Held, race.Running, race.Clean, race.Unseen, race.DSQ, race.DNF, race.DNS}, b.Results[i].State) + 1)
	}, nil, false},
	{"last seen", func(b *book, i int) uint64 {
		_, at := b.Results[i].Reached()
		if !at.Known() {
			return 1 << 62
		}
		return 1<<61 - uint64(at)
	}, nil, false},
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

// nameKey is the first eight bytes of a name as a number, without case for plain letters;
// nameless come last. Bytes of UTF-8 sort as its runes do.
func nameKey(s string) uint64 {
	if s == "" {
		return 1<<64 - 1
	}
	var k uint64
	for i := range 8 {
		k <<= 8
		if i < len(s) {
			c := s[i]
			if c >= 'A' && c <= 'Z' {
				c += 'a' - 'A'
			}
			k |= uint64(c)
		}
	}
	return k
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
		a.rows = a.book.index.search(a.query, a.rows[:0], &a.some)
		a.scored, a.in = true, order{}
	} else {
		a.sort()
	}
	a.t.sync(a)
}

// sort puts everybody in order of the chosen column; equals stay in order of bib.
func (a *athletes) sort() {
	a.scored = false
	o := &orders[a.by]
	now := order{a.book.roster, a.by, a.back}
	if now == a.in && o.lasts {
		return // what has come in moves nobody
	}
	n := len(a.book.Results)
	if cap(a.keys) < n {
		a.keys, a.spare = make([]sortKey, n), make([]sortKey, n)
	}
	a.keys, a.spare = a.keys[:n], a.spare[:n]
	sorted := true
	for i, r := range a.book.Results {
		k := sortKey{key: o.key(a.book, i), at: int32(i)}
		if o.word != nil {
			if w := o.word(r); len(w) > 8 {
				k.more = nameKey(w[8:])
			}
		}
		a.keys[i] = k
		sorted = sorted && (i == 0 || a.keys[i-1].key < k.key)
	}
	if !sorted {
		a.keys, a.spare = radix(a.keys, a.spare, func(k *sortKey) uint64 { return k.more })
		a.keys, a.spare = radix(a.keys, a.spare, func(k *sortKey) uint64 { return k.key })
		a.untie()
	}
	a.rows = a.rows[:0]
	for _, k := range a.keys {
		a.rows = append(a.rows, k.at)
	}
	if a.back {
		slices.Reverse(a.rows)
	}
	a.in = now
}

// radix sorts by one number, byte by byte from the lowest, and keeps the order of equals:
// sixty thousand names by comparing would take longer than a frame. Bytes that are the
// same in all are skipped.
func radix(keys, spare []sortKey, of func(*sortKey) uint64) (sorted, other []sortKey) {
	var all, any uint64 = 1<<64 - 1, 0
	for i := range keys {
		all &= of(&keys[i])
		any |= of(&keys[i])
	}
	for shift := 0; shift < 64; shift += 8 {
		if (all^any)>>shift&0xff == 0 {
			continue
		}
		var start [257]int
		for i := range keys {
			start[of(&keys[i])>>shift&0xff+1]++
		}
		for i := 1; i < len(start); i++ {
			start[i] += start[i-1]
		}
		for i := range keys {
			b := of(&keys[i]) >> shift & 0xff
			spare[start[b]] = keys[i]
			start[b]++
		}
		keys, spare = spare, keys
	}
	return keys, spare
}

// untie compares in full the words whose first sixteen bytes are the same.
func (a *athletes) untie() {
	word := orders[a.by].word
	if word == nil {
		return
	}
	at := func(k sortKey) string { return word(a.book.Results[k.at]) }
	for i := 0; i < len(a.keys); {
		j := i + 1
		for j < len(a.keys) && a.keys[j].key == a.keys[i].key && a.keys[j].more == a.keys[i].more {
			j++
		}
		if j-i > 1 && a.keys[i].more != 0 && a.long(a.keys[i:j], at) {
			slices.SortStableFunc(a.keys[i:j], func(x, y sortKey) int { return strings.Compare(at(x)[16:], at(y)[16:]) })
		}
		i = j
	}
}

// long tells whether all these words go on after the sixteenth byte.
func (a *athletes) long(keys []sortKey, at func(sortKey) string) bool {
	for _, k := range keys {
		if len(at(k)) < 16 {
			return false
		}
	}
	return true
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
	r := a.book.Results[a.rows[i]]
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
		if _, at := r.Reached(); at.Known() {
			return muted, clockOf(a.book.State, at)
		}
		return muted, ""
	case 9:
		return strong, span(r.Official)
	case 10:
		return text, number(int(a.book.RanksOf(r).All))
	}
	return fromInk(r.From), r.From.String()
}

func (a *athletes) View(w, h int) string {
	p := newPage(a.look, w, h)
	r := p.line()
	if a.query != "" {
		r.put(strong, fmt.Sprintf("%d found", a.Len())).put(muted, " for ").put(accent, a.query).put(muted, "   esc shows everybody")
	} else {
		r.put(strong, race.Counted(a.Len(), "athlete", "athletes")).put(muted, " by "+orders[a.by].name)
		if a.back {
			r.put(muted, ", reversed")
		}
	}
	a.strangers(p)
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
