package reconcile

import (
	"cmp"
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/race"
)

// sources sets out what the plan says of each log's clock.
func (r *run) sources() {
	p := r.plan
	r.src = make([]source, len(p.Logs))
	r.refs, r.windows = make([]int, len(p.Lines)), make([]race.Millis, len(p.Lines))
	for s := range p.Logs {
		r.src[s] = source{line: p.Logs[s].Line, system: p.Logs[s].System}
		if s < len(r.in.Reads) {
			r.src[s].reads = r.in.Reads[s]
		}
	}
	r.centred = centred(p)
	for l := range p.Lines {
		r.refs[l], r.windows[l] = reference(p, l), p.Lines[l].Window
		if ref := r.refs[l]; ref >= 0 {
			r.src[ref].ref, r.src[ref].known = true, true
			r.src[ref].fixed = p.Logs[ref].Offset.Fixed
			r.src[ref].rough = r.src[ref].fixed
		}
	}
	for s := range p.Logs { // a line's second main is on the race clock too, as its offset says
		if l := &p.Logs[s]; l.System == race.Main && !l.Offset.Auto {
			r.src[s].ref, r.src[s].known = true, true
			r.src[s].fixed, r.src[s].rough = l.Offset.Fixed, l.Offset.Fixed
		}
	}
	r.twins()
	for s := range r.src {
		if x := r.src[s].reads; x != nil {
			r.sums.Lines += x.Lines
			r.sums.Kept += x.Kept
			r.sums.Repeated += x.Repeated
			r.sums.Bad += x.BadLines
			r.sums.Waiting += x.Waiting
		}
	}
}

// centred tells, per line, whether anybody keeps the centre there.
func centred(p *race.Plan) []bool {
	out := make([]bool, len(p.Lines))
	for l := range p.Lines {
		out[l] = p.Lines[l].Keep == race.KeepCentre
	}
	for c := range p.Courses {
		for _, s := range p.Courses[c].Splits {
			out[s.Line] = out[s.Line] || s.Keep == race.KeepCentre
		}
	}
	return out
}

// reference is the log that a line's others are aligned to: its first main, else its first.
func reference(p *race.Plan, line int) int {
	for _, s := range p.Lines[line].Logs {
		if p.Logs[s].System == race.Main {
			return s
		}
	}
	if len(p.Lines[line].Logs) > 0 {
		return p.Lines[line].Logs[0]
	}
	return -1
}

// twins leaves out a log that is its line's reference again: nearly all its reads are the
// same tags at the same milliseconds.
func (r *run) twins() {
	for s := range r.src {
		ref := r.refs[r.src[s].line]
		if ref < 0 || s == ref || r.src[s].reads == nil || r.src[ref].reads == nil {
			continue
		}
		r.src[s].twin = sameLog(r.src[ref].reads, r.src[s].reads)
	}
}

// sameShare of equal reads makes two logs one; by chance two clocks agree to the
// millisecond in one read of a thousand.
const (
	sameShare = 0.95
	sameReads = 20
)

func sameLog(a, b *race.Reads) bool {
	if b.Kept < sameReads || a.Kept < sameReads {
		return false
	}
	if few := b.Tags.Len() / sampledTags; few > 1 {
		// Some of the tags tell a log that is another; which ones must not rest on the order
		// of their coming.
		same, all := sameReadsOf(a, b, func(tag string) bool { return int(tagHash(tag))%few == 0 })
		if 2*all > sampledTags && 2*same < all {
			return false
		}
	}
	same, all := sameReadsOf(a, b, func(string) bool { return true })
	return float64(same) >= sameShare*float64(all)
}

// sampledTags are about so many as show that two logs are two.
const sampledTags = 500

func tagHash(tag string) uint32 {
	h := uint32(2166136261) // FNV-1a
	for i := range len(tag) {
		h = (h ^ uint32(tag[i])) * 16777619
	}
	return h >> 4
}

// sameReadsOf counts the reads of b, of those tags that are asked for, and how many of them
// a has at the same millisecond.
func sameReadsOf(a, b *race.Reads, asked func(tag string) bool) (same, all int) {
	at := map[string]int32{}
	for i := range b.Tags.Len() {
		if t := b.Tags.At(i); asked(t.Tag) {
			at[t.Tag] = int32(i)
			all += len(t.Reads)
		}
	}
	for t := range a.Tags.All() {
		k, ok := at[t.Tag]
		if !ok {
			continue
		}
		x, y := t.Reads, b.Tags.At(int(k)).Reads
		for len(x) > 0 && len(y) > 0 {
			switch {
			case x[0].At == y[0].At:
				same++
				x, y = x[1:], y[1:]
			case x[0].At < y[0].At:
				x = x[1:]
			default:
				y = y[1:]
			}
		}
	}
	return same, all
}

// own tells whose each tag's reads are, and lists the bibs of the race.
func (r *run) own() {
	r.list()
	owners := r.owners()
	for s := range r.src {
		x := &r.src[s]
		if x.reads == nil {
			continue
		}
		for t := range x.reads.Tags.All() {
			if x.twin {
				r.sums.TwinLog += len(t.Reads)
				continue
			}
			reads := r.here(s, t.Reads)
			if len(reads) == 0 {
				continue
			}
			if x.system == race.Hand {
				r.give(r.bibIndex(t.Tag), rec{s, t.Tag, reads})
				continue
			}
			r.deal(s, t.Tag, reads, owners)
		}
	}
	r.listStrays()
	r.order()
}

// ownAgain deals the reads of chips that change hands during the day on the race clock, now
// that it is known roughly: a log that is an hour wrong would give them to the next wearer.
func (r *run) ownAgain() {
	if !slices.ContainsFunc(r.fx.Chips, func(c race.Chip) bool { return c.From.Known() || c.To.Known() }) {
		return
	}
	r.strays, r.loose = nil, loose{}
	r.sums.Elsewhere, r.sums.Unassigned, r.sums.Ignored, r.sums.TwinLog = 0, 0, 0, 0
	for s := range r.src {
		r.src[s].elsewhere = 0
	}
	r.own()
}

// here is the part of a log's reads that its from and to leave with this line.
func (r *run) here(s int, reads []race.Read) []race.Read {
	lo, hi := r.hereIn(s, reads)
	r.sums.Elsewhere += len(reads) - (hi - lo)
	r.src[s].elsewhere += len(reads) - (hi - lo)
	return reads[lo:hi]
}

func (r *run) hereIn(s int, reads []race.Read) (from, to int) {
	l := &r.plan.Logs[s]
	if !l.From.Known() && !l.To.Known() {
		return 0, len(reads)
	}
	fixed := race.Instant(0)
	if !l.Offset.Auto {
		fixed = race.Instant(l.Offset.Fixed)
		if ref := r.refs[l.Line]; l.System != race.Main && s != ref {
			fixed += race.Instant(r.src[ref].fixed)
		}
	}
	lo, hi := 0, len(reads)
	if l.From.Known() {
		lo = sort.Search(len(reads), func(i int) bool { return reads[i].At-fixed >= l.From })
	}
	if l.To.Known() {
		hi = sort.Search(len(reads), func(i int) bool { return reads[i].At-fixed > l.To })
	}
	return lo, max(lo, hi)
}

// list begins the entrants with the athletes.
func (r *run) list() {
	r.ents = make([]entrant, len(r.fx.Athletes), len(r.fx.Athletes)+16)
	r.byBib = make(map[string]int, len(r.fx.Athletes))
	each := min(len(r.src), 16) // a tag in every log: most have no more
	room := make([]rec, each*len(r.ents))
	for i, a := range r.fx.Athletes {
		r.ents[i] = entrant{athlete: a, listed: true, recs: room[i*each : i*each : (i+1)*each]}
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

// deal gives a tag's reads to whoever wore it when.
func (r *run) deal(s int, tag string, reads []race.Read, owners map[string]wearers) {
	w, ok := owners[tag]
	if !ok && r.in.ZerosDropped {
		if b := bare(tag); b != tag {
			if w, ok = owners[b]; ok {
				tag = b
			}
		}
	}
	chips := w.chips
	if _, ignored := r.fx.Ignored[tag]; ignored && !r.assignedAfter(tag, chips) {
		r.sums.Ignored += len(reads)
		r.stray(rec{s, tag, reads}, true)
		return
	}
	if len(chips) == 0 {
		r.stray(rec{s, tag, reads}, false)
		return
	}
	if w.all >= 0 {
		r.give(w.all, rec{s, tag, reads})
		return
	}
	if len(chips) == 1 && !chips[0].From.Known() && !chips[0].To.Known() {
		r.give(r.bibIndex(chips[0].Bib), rec{s, tag, reads})
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
	for from := 0; from < len(reads); {
		w, to := whose(r.src[s].roughly(reads[from].At)), from+1
		for to < len(reads) && whose(r.src[s].roughly(reads[to].At)) == w {
			to++
		}
		if part := (rec{s, tag, reads[from:to:to]}); w >= 0 {
			r.give(r.bibIndex(chips[w].Bib), part)
		} else {
			r.stray(part, false)
		}
		from = to
	}
}

// assignedAfter tells whether a tag that was ignored was given to somebody since.
func (r *run) assignedAfter(tag string, chips []race.Chip) bool {
	return len(chips) > 0 && r.fx.AssignedSeq[tag] > r.fx.Ignored[tag]
}

func (r *run) give(i int, x rec) {
	r.ents[i].recs = append(r.ents[i].recs, x)
	if tags := r.ents[i].tags; len(tags) == 0 || !slices.Contains(tags, x.tag) {
		r.ents[i].tags = append(tags, x.tag)
	}
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

// wear gives an entrant these reads in place of what it had.
func (r *run) wear(i int, recs []rec) {
	r.ents[i].recs, r.ents[i].tags = nil, nil
	for _, x := range recs {
		r.give(i, x)
	}
}

// order exchanges what swapped bibs wore and puts the entrants in order of bib, each with
// its course and gun.
func (r *run) order() {
	for _, s := range r.fx.Swaps {
		a, b := r.bibIndex(s[0]), r.bibIndex(s[1])
		chipsA, keyedA := r.worn(r.ents[a].recs)
		chipsB, keyedB := r.worn(r.ents[b].recs)
		r.wear(a, append(chipsB, keyedA...))
		r.wear(b, append(chipsA, keyedB...))
	}
	slices.SortStableFunc(r.ents, func(a, b entrant) int { return race.CompareBibs(a.athlete.Bib, b.athlete.Bib) })
	for i := range r.ents {
		e := &r.ents[i]
		r.byBib[e.athlete.Bib] = i
		sort.Strings(e.tags)
		slices.SortStableFunc(e.recs, func(x, y rec) int { return cmp.Or(x.source-y.source, strings.Compare(x.tag, y.tag)) })
		e.course, e.gun = -1, race.NoInstant
		if w := e.athlete.Wave; w >= 0 && w < len(r.plan.Waves) {
			e.course, e.gun = r.plan.Waves[w].Course, r.plan.Waves[w].Gun
			if e.athlete.Start.Known() {
				e.gun = e.athlete.Start
			}
		}
	}
}
