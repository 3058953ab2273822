package suspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// companion is somebody who crossed with an unknown tag: worn beside their own chip.
type companion struct {
	result int
	lines  int     // crossings with them
	worst  float64 // seconds, the furthest of those
	score  float64 // nats for one body against a friend's, less what it costs where theirs wasn't read
	lacks  bool    // the tag was read where they weren't, at a split that they lack
}

const (
	// wornShare is the least share of a tag's crossings, and of the wearer's own meanwhile,
	// that both chips on a body are read at.
	wornShare = 0.6
	// wornPair is what two crossings alone must say: of a crowd somebody is near at both.
	wornPair = 1
	// wornApart is of how many crossings one may lie further from the wearer's own.
	wornApart = 8
	// wornNats is how much likelier one must be to wear a tag than the next: of a bunch
	// several come with it every time.
	wornNats = 2
)

// wornBy finds who, of all that met a tag, was at the lines whenever it was, as near as two chips
// on one body are: nobody's who lacks passings, but worn beside a chip that is listed. result is
// -1 for none.
func (f *field) wornBy(all []met, ps []race.Passing, noise []float64) companion {
	none := companion{result: -1, score: math.Inf(-1)}
	if len(ps) < 2 {
		return none
	}
	best, next := none, math.Inf(-1)
	for len(all) > 0 {
		n := slices.IndexFunc(all, func(m met) bool { return m.result != all[0].result })
		if n < 0 {
			n = len(all)
		}
		x := f.company(all[:n], ps, noise)
		all = all[n:]
		switch {
		case x.result < 0:
		case best.result < 0 || x.score > best.score:
			best, next = x, math.Max(next, best.score)
		default:
			next = math.Max(next, x.score)
		}
	}
	if best.result < 0 || best.score < next+wornNats || best.lines < strongPassings && best.score < wornPair {
		return none
	}
	return best
}

// met is somebody who crossed a line within a body's reach of a tag.
type met struct {
	result, passing int
	by              race.Millis // after the tag
}

// metAt are all who met a tag, by result, passing, and how near they came.
func (f *field) metAt(ps []race.Passing) []met {
	var all []met
	for n := range ps {
		there := f.byLine()[ps[n].Line]
		from, _ := slices.BinarySearchFunc(there, ps[n].At.Add(-oneBody), func(s seenAt, t race.Instant) int { return cmp.Compare(s.at, t) })
		for _, s := range there[from:] {
			if s.at > ps[n].At.Add(oneBody) {
				break
			}
			if int(s.who) < len(f.st.Results) {
				all = append(all, met{int(s.who), n, s.at.Sub(ps[n].At)})
			}
		}
	}
	slices.SortFunc(all, func(a, b met) int {
		return cmp.Or(cmp.Compare(a.result, b.result), cmp.Compare(a.passing, b.passing), cmp.Compare(max(a.by, -a.by), max(b.by, -b.by)), cmp.Compare(a.by, b.by))
	})
	return all
}

// company weighs one who met a tag as its wearer, by the nearest at each of its passings.
// result is -1 for no wearer of it.
func (f *field) company(by []met, ps []race.Passing, noise []float64) companion {
	x := companion{result: by[0].result}
	ds, sds, at := []float64{}, []float64{}, -1
	for _, m := range by {
		if m.passing != at {
			at = m.passing
			d := float64(m.by) / 1000
			ds, sds = append(ds, d), append(sds, noise[ps[at].Line])
			x.worst = math.Max(x.worst, math.Abs(d))
		}
	}
	x.lines = len(ds)
	if !f.mostlyTogether(&x, ps) {
		return companion{result: -1}
	}
	if x.score = oneNotTwo(ds, sds, friendsSD); x.score < 0 {
		return companion{result: -1}
	}
	x.score -= costSkipped * float64(len(ps)-x.lines)
	return x
}

// mostlyTogether tells whether a tag and somebody's own chip were read together for most of
// the tag's crossings and most of their own meanwhile, and whether it was read for them where
// theirs wasn't.
func (f *field) mostlyTogether(x *companion, ps []race.Passing) bool {
	if x.lines < 2 || float64(x.lines) < wornShare*float64(len(ps)) {
		return false
	}
	r := f.st.Results[x.result]
	if r.Course < 0 {
		return false
	}
	own := 0
	for _, t := range f.times[x.result] {
		if t.Known() && t >= ps[0].At.Add(-oneBody) && t <= ps[len(ps)-1].At.Add(oneBody) {
			own++
		}
	}
	if float64(x.lines) < wornShare*float64(own) {
		return false
	}
	apart := 0
	s := f.storyIn(ps, max(r.Wave, 0), r.Gun)
	for j, k := range s.splits {
		if k < 0 || k >= len(f.times[x.result]) || f.nearOwn(x.result, ps[j].At) {
			continue
		}
		if f.times[x.result][k].Known() {
			apart++ // they were elsewhere
		} else {
			x.lacks = true
		}
	}
	return apart <= len(ps)/wornApart
}

// nearOwn tells whether somebody was read by their own chip at a moment, at whatever line.
func (f *field) nearOwn(i int, at race.Instant) bool {
	return slices.ContainsFunc(f.st.Results[i].Passings, func(p race.Passing) bool {
		d := p.At.Sub(at)
		return p.At.Known() && max(d, -d) <= oneBody
	})
}

// wornBeside tells of a tag that somebody wore beside their own chip. It is theirs where they
// wear fewer than the field does or it saw a split that theirs didn't; else their own chip
// tells their race, and last year's beside it is left out.
func (f *field) wornBeside(s *race.Suspect, w companion) {
	bib := f.st.Results[w.result].Bib
	assign, ignore := assignChip(s.Tag, bib), ignoreChip(s.Tag)
	s.Bibs = []string{bib}
	s.Says += fmt.Sprintf("; went with %s at %d crossings, never more than %.2f s apart", bib, w.lines, w.worst)
	if fewer := f.wears(w.result) < f.chipsPerBib(); fewer || w.lacks {
		s.Proposes, s.Strong = assign, w.lines >= strongPassings
		return
	}
	s.Says += " beside their own chip"
	s.Proposes, s.Strong = ignore, w.lines >= strongPassings
	s.Others = append(s.Others, assign)
}

// walked is how often a tag crossed before the first gun, if at several lines: a test chip that
// was walked over them, unless it then raced at more.
func (f *field) walked(ps []race.Passing) int {
	first, n := race.NoInstant, 0
	for w := range f.plan.Waves {
		if g := f.plan.Waves[w].Gun; g.Known() && (!first.Known() || g < first) {
			first = g
		}
	}
	lines := map[int]bool{}
	for k := range ps {
		if first.Known() && ps[k].At < first.Add(-race.EarlyReach) || first.Known() && ps[k].At < first && !f.starts(ps[k].Line) {
			lines[ps[k].Line] = true
			n++
		}
	}
	if len(lines) < 2 {
		return 0
	}
	return n
}

// starts tells whether a course starts at a line.
func (f *field) starts(line int) bool {
	return slices.ContainsFunc(f.plan.Courses, func(c race.Course) bool {
		return startSplit(c.Splits) >= 0 && c.Splits[0].Line == line
	})
}
