package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

const (
	// rankedMost bounds how many unknown tags are judged together: those with the most
	// passings. The rest are listed with what was read of them.
	rankedMost = 300
	// ownersMost is how many likely owners a tag keeps.
	ownersMost = 12
	// ownersNamed is how many the evidence names, and more, up to ownersAlike, where they are
	// as likely within a few nats: absent athletes of one wave can't be told apart.
	ownersNamed = 3
	ownersAlike = 5
	alikeNats   = 2
	// strongMargin, in nats, and strongPassings make a proposal strong.
	strongMargin   = 5
	strongPassings = 3
	// manyLacking are too many to say anything by one passing: before a wave's start, all.
	manyLacking = 1000
	// oneBody is how far two chips of one body are read apart at one line: a stride, and
	// the noise of both (common practice).
	oneBody = 2500 * race.Millis(1)
)

// unknownTag is a tag that nobody owns, and who may.
type unknownTag struct {
	stray   *race.StrayTag
	ps      []race.Passing
	body    int // index of the tag that stands for its body
	stories []story
	owners  []owner
	with    companion // whose own chip went with it
}

type owner struct {
	result int
	score  float64 // nats, against nobody's
	story  int     // index in stories: a wave's, then those of athletes with a gun of their own
}

// unassignedChip: a tag in the logs that chips.csv gives to no one.
func unassignedChip(f *field) []race.Suspect {
	var tags []*unknownTag
	for n := range f.st.Strays {
		x := &f.st.Strays[n]
		if !x.Ignored {
			tags = append(tags, &unknownTag{stray: x, with: companion{result: -1}})
		}
	}
	ranked := f.ranked(tags)
	f.bodies(ranked)
	f.judge(ranked)
	given := solve(ranked)
	var found []race.Suspect
	for n, t := range ranked {
		found = append(found, f.unassigned(t, ranked[t.body], given[n]))
	}
	for _, t := range tags {
		if t.ps == nil {
			found = append(found, f.unassigned(t, t, -1))
		}
	}
	return found
}

// ranked are the tags worth judging, in order of tag.
func (f *field) ranked(tags []*unknownTag) []*unknownTag {
	rich := slices.Clone(tags)
	if len(rich) > rankedMost {
		slices.SortStableFunc(rich, func(a, b *unknownTag) int {
			return cmp.Or(cmp.Compare(len(b.stray.Lines), len(a.stray.Lines)), cmp.Compare(len(b.stray.Passings), len(a.stray.Passings)), cmp.Compare(a.stray.Tag, b.stray.Tag))
		})
		rich = rich[:rankedMost]
		slices.SortFunc(rich, func(a, b *unknownTag) int { return cmp.Compare(a.stray.Tag, b.stray.Tag) })
	}
	for n, t := range rich {
		t.ps, t.body = crossings(t.stray.Passings), n
	}
	return rich
}

// bodies finds unknown tags that went round together where a bib wears several chips: a
// spare set of two belongs to one athlete.
func (f *field) bodies(tags []*unknownTag) {
	if f.chipsPerBib() < 2 {
		return
	}
	for n, t := range tags {
		for m := range tags[:n] {
			if tags[m].body == m && together(tags[m].ps, t.ps, oneBody) {
				t.body = m
				break
			}
		}
	}
}

// judge ranks the owners of each body.
func (f *field) judge(tags []*unknownTag) {
	if len(tags) == 0 {
		return
	}
	lists := f.lacking()
	codes := f.chipList().codes
	groups, noise := f.groupLevels(), f.noise()
	for n, t := range tags {
		if t.body != n || len(t.ps) == 0 {
			continue
		}
		t.stories = make([]story, len(f.plan.Waves))
		for w := range t.stories {
			t.stories[w] = f.storyIn(t.ps, w, f.plan.Waves[w].Gun)
		}
		if t.with = f.wornBy(t.ps, noise); t.with.result >= 0 {
			continue // no one else's, however many lack such passings
		}
		walked := f.walked(t.ps)
		nobody, place := costUnfit*float64(len(t.ps)), codes.place(t.stray.Tag)
		weigh := func(n, i int) {
			if st := &t.stories[n]; st.fits > walked && st.cost <= nobody {
				if score, ok := f.owns(t, st, i, groups); ok {
					t.mayBe(owner{i, nobody - st.cost + score + codes.near(place, f.st.Results[i].Bib), n})
				}
			}
		}
		for w, list := range lists {
			if t.stories[w].fits < 2 && len(list) > manyLacking {
				continue
			}
			for _, i := range list {
				r := f.st.Results[i]
				switch {
				case !r.Start.Known():
					weigh(w, i)
				case r.Start <= t.ps[0].At.Add(race.EarlyReach): // their own gun, their own story
					t.stories = append(t.stories, f.storyIn(t.ps, w, r.Gun))
					weigh(len(t.stories)-1, i)
				}
			}
		}
	}
}

// mayBe puts an owner among the likeliest.
func (t *unknownTag) mayBe(o owner) {
	at := len(t.owners)
	for at > 0 && (o.score > t.owners[at-1].score || o.score == t.owners[at-1].score && o.result < t.owners[at-1].result) {
		at--
	}
	if at < ownersMost {
		t.owners = slices.Insert(t.owners[:min(len(t.owners), ownersMost-1)], at, o)
	}
}

// lacking are, per wave, the athletes who lack passings that they should have: nothing at
// all, a split with a later one there, or the rest of a course that they should be round.
func (f *field) lacking() [][]int {
	lists := make([][]int, len(f.plan.Waves))
	for i := range f.st.Results {
		r := f.st.Results[i]
		if r.Wave < 0 || r.Course < 0 {
			continue
		}
		last := f.last(i)
		lacks := last < 0 || slices.Contains(f.times[i][:last], race.NoInstant)
		if !lacks && last < len(f.times[i])-1 && f.st.Now.Known() {
			// Half as long again as the next stretch should take: most likely gone by unread.
			want := f.courses[r.Course].took(f.level[i], last, last+1)
			lacks = f.st.Now.Sub(f.times[i][last]).Seconds() > 1.5*want
		}
		if lacks {
			lists[r.Wave] = append(lists[r.Wave], i)
		}
	}
	return lists
}

// owns weighs one athlete as the owner of a tag with a story, in nats.
func (f *field) owns(t *unknownTag, s *story, i int, groups groupLevels) (float64, bool) {
	r := f.st.Results[i]
	score, mine := 0.0, 0
	for j, k := range s.splits {
		if k < 0 || k >= len(f.times[i]) {
			continue
		}
		if own := f.times[i][k]; own.Known() {
			if d := own.Sub(t.ps[j].At); max(d, -d) > oneBody {
				return 0, false
			}
			score--
		}
		// Between the athlete's own passings, the tag's must come in order.
		for h := range f.times[i] {
			if own := f.times[i][h]; own.Known() && (h < k) != (own < t.ps[j].At) && h != k {
				return 0, false
			}
		}
	}
	for _, own := range f.times[i] {
		if own.Known() {
			mine++
		}
	}
	switch {
	case mine == 0:
		score += 4 // a spare at the desk is worn instead of the chip that stays there
		if r.Status != "" {
			score -= 4 // somebody said that they weren't there
		}
	case !math.IsNaN(s.level) && !math.IsNaN(f.level[i]):
		d := (s.level - f.level[i]) / 0.1
		score -= math.Min(d*d/2, 12)
	}
	if !math.IsNaN(s.level) && mine == 0 {
		score += groups.fit(s.level, f.classes.class[i])
	}
	if !f.chipList().chipped[i] {
		score += 3
	}
	return score, true
}

// solve gives each body an owner of its own, all at once: the least total cost, nobody
// being an owner too. The answer is per tag an index in its body's owners, -1: nobody.
func solve(tags []*unknownTag) []int {
	var bodies []int
	column := map[int]int{}
	for n, t := range tags {
		if t.body != n {
			continue
		}
		bodies = append(bodies, n)
		for _, o := range t.owners {
			if _, ok := column[o.result]; !ok {
				column[o.result] = len(column)
			}
		}
	}
	cost := make([][]float64, len(bodies))
	for b, n := range bodies {
		cost[b] = make([]float64, len(column)+len(bodies))
		for j := range cost[b] {
			cost[b][j] = 1000
			if j >= len(column) {
				cost[b][j] = 0
			}
		}
		for _, o := range tags[n].owners {
			cost[b][column[o.result]] = -o.score
		}
	}
	given := make([]int, len(tags))
	for n := range given {
		given[n] = -1
	}
	for b, j := range assignRows(cost) {
		for k, o := range tags[bodies[b]].owners {
			if column[o.result] == j && o.score > 0 {
				given[bodies[b]] = k
			}
		}
	}
	for n, t := range tags {
		given[n] = given[t.body]
	}
	return given
}

// unassigned tells of one tag; given is the index of its owner among its body's.
func (f *field) unassigned(t, body *unknownTag, given int) race.Suspect {
	x := t.stray
	s := suspect(race.UnassignedChip, race.Hold, "")
	s.ID = race.UnassignedChip + ":" + x.Tag
	s.Tag, s.At = x.Tag, x.First
	var lines []string
	for _, l := range x.Lines {
		lines = append(lines, f.line(l))
	}
	if len(x.Lines) == 1 {
		s.Line = lines[0]
	}
	s.Says = fmt.Sprintf("%d reads of %s at %s, %s to %s", x.Reads, x.Tag, strings.Join(lines, ", "), f.clock(x.First), f.clock(x.Last))
	var names []string
	switch {
	case given >= 0:
		names = f.sayOwners(&s, body, given)
	case len(t.ps) > 0 && len(body.owners) == 0 && body.with.result < 0:
		s.Says += "; nobody on the list lacks these passings"
	}
	if w := body.with; w.result >= 0 {
		f.wornBeside(&s, w)
	}
	if t != body {
		s.Says += fmt.Sprintf("; went with %s", body.stray.Tag)
	}
	s.Says += "."
	ignore := ignoreChip(x.Tag)
	if s.Proposes == "" {
		s.Proposes = ignore
	} else if s.Proposes != ignore {
		s.Others = append(s.Others, ignore)
	}
	for _, n := range names {
		if p := assignChip(x.Tag, n); p != s.Proposes {
			s.Others = append(s.Others, p)
		}
	}
	s.Others = append(s.Others, accept(s.ID))
	s.Evidence = fmt.Sprintf("at %s, %d passings", strings.Join(lines, ","), len(crossings(x.Passings)))
	return s
}

// sayOwners tells who may own a tag, and proposes the given one where more than one passing
// says so; who was named.
func (f *field) sayOwners(s *race.Suspect, body *unknownTag, given int) []string {
	o := body.owners[given]
	told := &body.stories[o.story]
	names := f.candidates(body, given)
	if told.fits < 2 {
		s.Says += "; perhaps " + strings.Join(names, ", ")
		return names
	}
	s.Proposes = assignChip(s.Tag, f.st.Results[o.result].Bib)
	s.Bibs = []string{f.st.Results[o.result].Bib}
	margin := f.margin(body, given)
	s.Strong = margin > strongMargin && told.fits >= strongPassings
	s.Says += fmt.Sprintf("; %d passings fit wave %s; ", told.fits, f.plan.Waves[told.wave].ID)
	switch odds := nats(margin); {
	case odds != "":
		s.Says += fmt.Sprintf("likely %s (%s before the next)", strings.Join(names, ", then "), odds)
	case len(names) > 1:
		s.Says += fmt.Sprintf("%s, one as likely as the next: ask", strings.Join(names, ", "))
	default:
		s.Says += "perhaps " + names[0]
	}
	return names
}

// wears is how many chips of an athlete were read, one at least.
func (f *field) wears(i int) int {
	if f.in.Seen == nil {
		return 1
	}
	return max(1, len(f.in.Seen[i]))
}

// candidates names the likely owners, the given one first.
func (f *field) candidates(t *unknownTag, given int) []string {
	names := []string{f.st.Results[t.owners[given].result].Bib}
	for k, o := range t.owners {
		less := t.owners[given].score - o.score
		if k != given && (len(names) < ownersNamed && less < 8 || len(names) < ownersAlike && less < alikeNats) {
			names = append(names, f.st.Results[o.result].Bib)
		}
	}
	return names
}

// margin is how much likelier the given owner is than the next, in nats.
func (f *field) margin(t *unknownTag, given int) float64 {
	m := t.owners[given].score
	for k, o := range t.owners {
		if k != given {
			return math.Min(m, t.owners[given].score-o.score)
		}
	}
	return m
}

// nats says a margin as odds; "" for none.
func nats(m float64) string {
	switch {
	case m < 0.7:
		return ""
	case m > 9:
		return "thousands of times likelier"
	}
	return fmt.Sprintf("about %.0f times likelier", math.Exp(m))
}
