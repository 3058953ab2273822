package suspect

import (
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
	// keyedNats is what it tells that a person keyed a bib as a tag went over the line, and no chip
	// of that bib did: of an hour at a finish a bib that isn't the tag's has those few seconds once
	// in hundreds of times.
	keyedNats = 6
)

// unknownTag is a tag that nobody owns, and who may.
type unknownTag struct {
	stray   *race.StrayTag
	ps      []race.Passing // nil: it isn't worth judging
	body    int            // index of the ranked tag that stands for its body
	judged  bool           // the rest is so, of one that stands for a body
	stories []story        // per wave
	walked  int            // crossings before the first gun
	place   placed         // among the list's
	owners  []owner
	with    companion // whose own chip went with it
	met     []int     // who crossed lines with it, in order
	moves   int       // how often owners or with became others
	told    race.Suspect
	toldAs  toldAs
}

type owner struct {
	result int
	score  float64 // nats, against nobody's
	story  *story  // their wave's, or their own
}

// judge ranks the owners of a body.
func (f *field) judge(t *unknownTag) {
	t.judged, t.owners, t.stories = true, nil, make([]story, len(f.plan.Waves))
	t.moves++
	t.walked, t.place = f.walked(t.ps), f.chipList().codes.place(t.stray.Tag)
	for w := range t.stories {
		t.stories[w] = f.storyIn(t.ps, w, f.plan.Waves[w].Gun)
	}
	if f.wear(t); t.with.result >= 0 {
		return // no one else's, however many lack such passings
	}
	for _, list := range f.lacks.of() {
		for _, i := range list {
			f.weigh(t, i)
		}
	}
}

// weigh puts an athlete who lacks passings among a body's likeliest owners, if they are.
func (f *field) weigh(t *unknownTag, i int) {
	r, w := f.st.Results[i], int(f.lacks.wave[i])
	s := &t.stories[w]
	if len(t.ps) == 0 || s.fits < 2 && f.lacks.crowd(int32(w)) {
		return
	}
	if r.Start.Known() { // their own gun, their own story
		if r.Start > t.ps[0].At.Add(race.EarlyReach) {
			return
		}
		own := f.storyIn(t.ps, w, r.Gun)
		s = &own
	}
	nobody := costUnfit * float64(len(t.ps))
	if s.fits <= t.walked || s.cost > nobody {
		return
	}
	if score, ok := f.owns(t, s, i); ok {
		t.mayBe(owner{i, nobody - s.cost + score + f.chipList().codes.near(t.place, r.Bib), s})
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
		t.moves++
	}
}

// owns weighs one athlete as the owner of a tag with a story, in nats.
func (f *field) owns(t *unknownTag, s *story, i int) (float64, bool) {
	r := f.st.Results[i]
	score, mine := 0.0, 0
	for j, k := range s.splits {
		if k < 0 || k >= len(f.times[i]) {
			continue
		}
		if keyedWith(r, &t.ps[j]) {
			score += keyedNats
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
	for k, own := range f.times[i] {
		if own.Known() && !keyedOnly(&r.Passings[r.Filled[k]]) {
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
		score += f.groupLevels().fit(s.level, f.classes.class[i])
	}
	if !f.chipList().chipped[i] {
		score += 3
	}
	return score, true
}

// keyedOnly tells whether a passing was keyed by a person, and read by no system.
func keyedOnly(p *race.Passing) bool {
	return p.Bursts[race.Hand] != nil && p.Bursts[race.Main] == nil && p.Bursts[race.Backup] == nil
}

// keyedWith tells whether a person keyed an athlete's bib as a tag passed.
func keyedWith(r *race.Result, tag *race.Passing) bool {
	return slices.ContainsFunc(r.Passings, func(p race.Passing) bool {
		d := p.At.Sub(tag.At)
		return p.Line == tag.Line && p.Fate != race.Voided && keyedOnly(&p) && max(d, -d) <= oneBody
	})
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
	s.Says = fmt.Sprintf("%s of %s at %s, %s", race.Counted(x.Reads, "read", "reads"), x.Tag, strings.Join(lines, ", "), f.clock(x.First))
	if last := f.clock(x.Last); last != f.clock(x.First) {
		s.Says += " to " + last
	}
	var names []string
	switch {
	case given >= 0:
		names = f.sayOwners(&s, body, given)
	case len(t.ps) > 0 && len(body.owners) == 0 && body.with.result < 0:
		s.Says += "; nobody on the list fits these passings well"
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
	told := o.story
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
	for j := range body.ps {
		if p := &body.ps[j]; keyedWith(f.st.Results[o.result], p) {
			s.Says += fmt.Sprintf("; %s was keyed as it passed %s", s.Bibs[0], f.line(p.Line))
			break
		}
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
