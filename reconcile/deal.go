package reconcile

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// wearers are a tag's chips, in order of precedence.
type wearers struct {
	chips []race.Chip
	all   int // the entrant who wears it all day, -1: it depends
}

// owners finds each tag's wearers.
func (r *run) owners() map[string]wearers {
	m := make(map[string]wearers, len(r.fx.Chips))
	for i := range r.fx.Chips {
		c := &r.fx.Chips[i]
		if k, ok := r.byBib[c.Bib]; ok {
			r.ents[k].chips = append(r.ents[k].chips, c.Tag)
		}
		w, more := m[c.Tag]
		if w.all = -1; more {
			w.chips = append(w.chips, *c)
		} else {
			w.chips = r.fx.Chips[i : i+1 : i+1]
			if k, ok := r.byBib[c.Bib]; ok && !c.From.Known() && !c.To.Known() {
				w.all = k
			}
		}
		m[c.Tag] = w
	}
	return m
}

// bare is a tag without its leading zeros.
func bare(tag string) string {
	t := strings.TrimLeft(tag, "0")
	if t == "" {
		return tag
	}
	return t
}

// own tells whose each tag's reads are, and lists the bibs of the race.
func (r *run) own() {
	if r.mem != nil && r.dealAgain() {
		return
	}
	r.list()
	owners := r.owners()
	whose := make([][]int32, len(r.src))
	r.each(1, len(r.src), func(s int) { whose[s] = r.allDay(s, owners) })
	r.giveAll(whose)
	for s, bibs := range whose {
		x := &r.src[s]
		for i, bib := range bibs {
			t := x.reads.Tags.At(i)
			switch from, to := r.here(s, t.Reads); {
			case bib >= 0 || from == to:
			case x.system == race.Hand:
				r.give(r.bibIndex(t.Tag), recAt(s, i, from, to))
			default:
				r.deal(s, i, from, to, owners)
			}
		}
		if x.twin {
			r.sums.TwinLog += x.reads.Kept
		}
	}
	r.listStrays()
	r.order()
	r.keepDealt(owners)
}

// ownAgain deals the reads of chips that change hands during the day on the race clock, now
// that it is known roughly: a log that is an hour wrong would give them to the next wearer.
func (r *run) ownAgain() {
	if r.again || !r.hours() {
		return
	}
	r.strays, r.loose = nil, loose{}
	r.sums.Elsewhere, r.sums.Unassigned, r.sums.Ignored, r.sums.TwinLog = 0, 0, 0, 0
	for s := range r.src {
		r.src[s].elsewhere = 0
	}
	r.own()
}

// list begins the entrants with the athletes.
func (r *run) list() {
	r.ents = make([]entrant, len(r.fx.Athletes), len(r.fx.Athletes)+16)
	r.byBib = make(map[string]int, len(r.fx.Athletes))
	for i, a := range r.fx.Athletes {
		r.ents[i] = entrant{athlete: a, listed: true}
		r.byBib[a.Bib] = i
	}
}

// bibIndex finds an entrant; one that no list has is made.
func (r *run) bibIndex(bib string) int {
	if i, ok := r.byBib[bib]; ok {
		return i
	}
	r.ents = append(r.ents, entrant{athlete: race.Athlete{Bib: bib, Wave: -1, Start: race.NoInstant}})
	r.byBib[bib] = len(r.ents) - 1
	return len(r.ents) - 1
}

// allDay is, per tag of a log, the entrant who wears it all day, -1: it must be dealt.
func (r *run) allDay(s int, owners map[string]wearers) []int32 {
	x := &r.src[s]
	if x.reads == nil || x.twin {
		return nil
	}
	bibs := make([]int32, x.reads.Tags.Len())
	for i := range bibs {
		bibs[i] = -1
		tag := x.reads.Tags.At(i).Tag
		if x.system == race.Hand {
			if k, ok := r.byBib[tag]; ok {
				bibs[i] = int32(k)
			}
		} else if w, ok := owners[tag]; ok && w.all >= 0 {
			if _, ignored := r.fx.Ignored[tag]; !ignored {
				bibs[i] = int32(w.all)
			}
		}
	}
	return bibs
}

// giveAll gives everybody what they wear all day, in one piece of memory.
func (r *run) giveAll(whose [][]int32) {
	begin := make([]int32, len(r.ents)+1)
	for s, bibs := range whose {
		r.src[s].worn = 0
		for _, bib := range bibs {
			if bib >= 0 {
				begin[bib+1]++
				r.src[s].worn++
			}
		}
	}
	for i := range r.ents {
		begin[i+1] += begin[i]
	}
	next := slices.Clone(begin)
	recs := make([]rec, begin[len(r.ents)])
	share := (len(r.ents) + giveShares - 1) / giveShares
	r.each(1, giveShares, func(k int) {
		first, last := int32(k*share), int32(min(len(r.ents), (k+1)*share)-1)
		for s, bibs := range whose {
			for i, bib := range bibs {
				if bib < first || bib > last {
					continue
				}
				t := r.src[s].reads.Tags.At(i)
				if lo, hi := r.hereIn(s, t.Reads); lo < hi {
					recs[next[bib]] = recAt(s, i, lo, hi)
					next[bib]++
				}
			}
		}
	})
	for i := range r.ents {
		r.ents[i].recs = recs[begin[i]:next[i]:next[i]]
	}
}

// giveShares is into how many parts the bibs are divided, each of which looks through all tags.
const giveShares = 4

// deal gives the reads of a log's at-th tag, from one to before another, to whoever wore it
// when.
func (r *run) deal(s, at, from, to int, owners map[string]wearers) {
	tag, reads := r.src[s].reads.Tags.At(at).Tag, r.src[s].reads.Tags.At(at).Reads[:to]
	w, ok := owners[tag]
	short := false
	if !ok && r.in.ZerosDropped {
		if b := bare(tag); b != tag {
			if w, ok = owners[b]; ok {
				tag, short = b, true
			}
		}
	}
	of := func(from, to int) rec {
		x := recAt(s, at, from, to)
		x.bare = short
		return x
	}
	chips := w.chips
	if _, ignored := r.fx.Ignored[tag]; ignored && !r.assignedAfter(tag, chips) {
		r.sums.Ignored += to - from
		r.stray(s, at, tag, from, to, true)
		return
	}
	if len(chips) == 0 {
		r.stray(s, at, tag, from, to, false)
		return
	}
	if w.all >= 0 {
		r.give(w.all, of(from, to))
		return
	}
	if len(chips) == 1 && !chips[0].From.Known() && !chips[0].To.Known() {
		r.give(r.bibIndex(chips[0].Bib), of(from, to))
		return
	}
	whose := func(t race.Instant) int {
		for i, c := range chips {
			if !(c.From.Known() && t < c.From) && !(c.To.Known() && t > c.To) {
				return i
			}
		}
		return -1
	}
	for from < to {
		w, end := whose(r.src[s].roughly(reads[from].At)), from+1
		for end < to && whose(r.src[s].roughly(reads[end].At)) == w {
			end++
		}
		if w >= 0 {
			r.give(r.bibIndex(chips[w].Bib), of(from, end))
		} else {
			r.stray(s, at, tag, from, end, false)
		}
		from = end
	}
}

// assignedAfter tells whether a tag that was ignored was given to somebody since.
func (r *run) assignedAfter(tag string, chips []race.Chip) bool {
	return len(chips) > 0 && r.fx.AssignedSeq[tag] > r.fx.Ignored[tag]
}

func recAt(source, at, from, to int) rec {
	return rec{source: int32(source), at: int32(at), from: int32(from), to: int32(to)}
}

func (r *run) give(i int, x rec) {
	r.ents[i].recs = append(r.ents[i].recs, x)
}

// worn tells what chips told of somebody from what a person keyed, who saw the bib.
func (r *run) worn(recs []rec) (chips, keyed []rec) {
	for _, x := range recs {
		if r.src[x.source].system == race.Hand {
			keyed = append(keyed, x)
		} else {
			chips = append(chips, x)
		}
	}
	return chips, keyed
}

// readOf are the chips by which somebody was read whom no list has: of them alone it is known that
// they are theirs.
func (r *run) readOf(e *entrant) (tags []string) {
	chips, _ := r.worn(e.recs)
	for _, x := range chips {
		if tag := r.tagOf(x); !slices.Contains(tags, tag) {
			tags = append(tags, tag)
		}
	}
	slices.Sort(tags)
	return tags
}

// order exchanges what swapped bibs wore and puts the entrants in order of bib, each with
// its course and gun.
func (r *run) order() {
	for _, s := range r.fx.Swaps {
		a, b := r.bibIndex(s[0]), r.bibIndex(s[1])
		chipsA, keyedA := r.worn(r.ents[a].recs)
		chipsB, keyedB := r.worn(r.ents[b].recs)
		r.ents[a].recs = append(chipsB, keyedA...)
		r.ents[b].recs = append(chipsA, keyedB...)
	}
	slices.SortStableFunc(r.ents, func(a, b entrant) int { return race.CompareBibs(a.athlete.Bib, b.athlete.Bib) })
	for i := range r.ents {
		r.byBib[r.ents[i].athlete.Bib] = i
		r.ents[i].draw = race.TagHash(r.ents[i].athlete.Bib)
	}
	r.each(256, len(r.ents), func(i int) {
		e := &r.ents[i]
		slices.SortStableFunc(e.recs, func(x, y rec) int {
			if x.source != y.source {
				return cmp.Compare(x.source, y.source)
			}
			return strings.Compare(r.tagOf(x), r.tagOf(y))
		})
		for _, x := range e.recs {
			if tag := r.tagOf(x); len(e.tags) == 0 || !slices.Contains(e.tags, tag) {
				e.tags = append(e.tags, tag)
			}
		}
		slices.Sort(e.tags)
		if !e.listed {
			e.chips = r.readOf(e)
		}
		e.course, e.gun = -1, race.NoInstant
		if w := e.athlete.Wave; w >= 0 && w < len(r.plan.Waves) {
			e.course, e.gun = r.plan.Waves[w].Course, r.plan.Waves[w].Gun
			if e.athlete.Start.Known() {
				e.gun = e.athlete.Start
			}
		}
	})
}
