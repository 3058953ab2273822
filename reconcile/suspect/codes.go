package suspect

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"twinmat/reconcile/race"
)

// codes is what chips.csv tells of how tags run with bibs.
type codes struct {
	byTag   []race.Chip
	ends    bool            // tags end in their bib
	heads   map[string]bool // what stands before bib and zeros in those that do
	follows bool            // tags in order are bibs in order
}

// chipShare of the list must keep a rule for it to be one.
const chipShare = 0.8

func codesOf(chips []race.Chip) codes {
	c := codes{byTag: slices.Clone(chips), heads: map[string]bool{}}
	slices.SortFunc(c.byTag, func(a, b race.Chip) int { return cmp.Or(cmp.Compare(a.Tag, b.Tag), cmp.Compare(a.Bib, b.Bib)) })
	ends, follows := 0, 0
	for i, x := range c.byTag {
		if endsIn(x.Tag, x.Bib) {
			ends++
			c.heads[head(x.Tag, x.Bib)] = true
		}
		if i > 0 && race.CompareBibs(c.byTag[i-1].Bib, x.Bib) <= 0 {
			follows++
		}
	}
	n := len(c.byTag)
	c.ends = n >= 5 && float64(ends) >= chipShare*float64(n)
	c.follows = n >= 5 && float64(follows) >= chipShare*float64(n-1)
	return c
}

// endsIn tells whether a tag ends in a bib, with nothing but zeros or a letter before it.
func endsIn(tag, bib string) bool {
	if bib == "" || !strings.HasSuffix(tag, bib) {
		return false
	}
	rest := strings.TrimSuffix(tag, bib)
	return rest == "" || rest[len(rest)-1] < '1' || rest[len(rest)-1] > '9'
}

// head is what stands before the bib that a tag ends in, and before its zeros. A spare of a
// batch of its own may end in anybody's bib; only one of the list's batch speaks for it.
func head(tag, bib string) string {
	return strings.TrimRight(strings.TrimSuffix(tag, bib), "0")
}

// placed is what a tag's place among the list's says of whose it is.
type placed struct {
	tag      string
	from, to int // the bib lies between those; equal: that isn't told
}

// place finds a tag's place among the list's.
func (c codes) place(tag string) placed {
	p := placed{tag: tag}
	if !c.follows {
		return p
	}
	at, _ := slices.BinarySearchFunc(c.byTag, tag, func(x race.Chip, t string) int { return cmp.Compare(x.Tag, t) })
	if at == 0 || at == len(c.byTag) {
		return p
	}
	lo, hi := c.byTag[at-1], c.byTag[at]
	if !sameBlock(lo.Tag, tag) || !sameBlock(tag, hi.Tag) {
		return p
	}
	a, err1 := strconv.Atoi(lo.Bib)
	b, err2 := strconv.Atoi(hi.Bib)
	if err1 == nil && err2 == nil && b > a && b-a <= 50 {
		p.from, p.to = a, b
	}
	return p
}

// near is what a tag's place says for a bib, in nats.
func (c codes) near(p placed, bib string) float64 {
	if c.ends && endsIn(p.tag, bib) && c.heads[head(p.tag, bib)] {
		return 8
	}
	if p.from == p.to {
		return 0
	}
	if x, err := strconv.Atoi(bib); err != nil || x <= p.from || x >= p.to {
		return 0
	}
	return 6
}

// sameBlock tells whether two tags differ in their last four characters at the most: one
// batch, numbered through.
func sameBlock(a, b string) bool {
	n := len(a)
	return n == len(b) && n > 4 && a[:n-4] == b[:n-4]
}

// chipsPerBib is how many chips most bibs wear.
func (f *field) chipsPerBib() int { return f.chipList().worn }

// chipList is what the list of chips tells, told once as long as it is the same. It is asked for
// by one kind alone.
func (f *field) chipList() *chipList {
	if f.chips == nil {
		f.chips = &chipList{chipped: make([]bool, len(f.st.Results)), worn: mostWear(f.in.Chips), codes: codesOf(f.in.Chips)}
		for _, c := range f.in.Chips {
			if i, ok := f.st.ByBib[c.Bib]; ok {
				f.chips.chipped[i] = true
			}
		}
	}
	return f.chips
}

type chipList struct {
	chipped []bool // per result: they have a chip
	worn    int    // chips that most bibs wear
	codes   codes
}

func mostWear(chips []race.Chip) int {
	count := map[string]int{}
	for _, c := range chips {
		count[c.Bib]++
	}
	ns := make([]float64, 0, len(count))
	for _, n := range count {
		ns = append(ns, float64(n))
	}
	if len(ns) == 0 {
		return 1
	}
	slices.Sort(ns)
	return int(quantile(ns, 0.5))
}
