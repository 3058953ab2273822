package reconcile

import (
	"sort"

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
		r.refs[l], r.windows[l] = p.Reference(l), p.Lines[l].Window
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

// twins leaves out a log that is its line's reference again. Of the few that one read concerns that is
// known sooner than another processor wakes.
func (r *run) twins() {
	var grown []int
	for s := range r.src {
		ref := r.refs[r.src[s].line]
		if ref < 0 || s == ref || r.src[s].reads == nil || r.src[ref].reads == nil {
			continue
		}
		if r.mem == nil || !r.mem.sources[s].twins.Known(r.src[ref].reads, r.src[s].reads) {
			grown = append(grown, s)
			continue
		}
		r.src[s].equal, r.src[s].twin = r.twinOf(ref, s)
	}
	look := func(k int) {
		s := grown[k]
		r.src[s].equal, r.src[s].twin = r.twinOf(r.refs[r.src[s].line], s)
	}
	if len(grown) > fewGrown {
		r.each(1, len(grown), look)
		return
	}
	for k := range grown {
		look(k)
	}
}

// fewGrown logs are looked at one after the other.
const fewGrown = 2

// here is the part of a log's reads that its from and to leave with this line.
func (r *run) here(s int, reads []race.Read) (from, to int) {
	lo, hi := r.hereIn(s, reads)
	r.sums.Elsewhere += len(reads) - (hi - lo)
	r.src[s].elsewhere += len(reads) - (hi - lo)
	return lo, hi
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
