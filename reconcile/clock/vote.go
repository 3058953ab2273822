package clock

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Vote is the coarse offset, other minus main, that most common tags agree on.
type Vote struct {
	Offset   race.Millis // the best there is, even where not OK
	OK       bool
	Votes    int    // differences within the winning second, or what less of it decided
	RunnerUp int    // those within the next best second elsewhere
	Tags     int    // that both saw, of those looked at
	Why      string // when not OK
	Named    string // what an offset of this size usually is: a time zone, a date …; "" : nothing known
	Turns    []Turn // more than one: the clock was set by seconds or hours during the race
	Fold     *Fold  // nil: main's clock was not set, or that is a turn
	weakest  int    // the votes of the least of the turns
	pile     int    // differences of the greatest pile before main's times were unfolded
}

const (
	voteBin     = 500     // ms
	voteFinest  = 4       // ms: finer than that no chip tells passings apart
	voteReach   = 1250    // ms about the mode whose median is the offset
	voteApart   = 2500    // ms within which a second mode is the first one's shoulder
	voteLeast   = 8       // votes that are enough by themselves
	voteFewest  = 3       // votes that are enough when nearly every tag gives one
	voteClear   = 3       // times the runner-up
	perTag      = 50      // bursts of one tag that vote
	spreadOver  = 8       // times of the race at which they are taken
	voteEnough  = 100_000 // differences that decide as well as more
	turnModes   = 8
	turnSlack   = 60_000         // ms that a turn may have been before or after the votes part
	turnStretch = 0.9            // of a mode's votes that must lie in a time of its own
	turnReach   = 30 * 86400_000 // ms before the most votes: no race is a month long, and a reader without a clock begins in another year
	turnStray   = 10             // one in so many votes meanwhile may be coincidences
)

// difference is one candidate: a burst of the other log less a burst of main.
type difference struct {
	by   race.Millis
	main race.Instant
	tag  int32 // its place in the lists
	thin bool  // some of its tag's bursts were left out
}

// CoarseVote finds the offset of another log from all differences of the same tag's
// bursts, however far apart: a clock that is an hour wrong is common. The two lists hold
// each tag's burst times, sorted, at the same index. A wrong lap's differences spread over
// minutes, the right ones pile up in one second: half-second bins, two neighbours
// summed, so that no edge divides the pile. Where laps are so even that wrong ones pile up in
// a second too, finer bins tell: the right differences stay together, the wrong ones don't.
func CoarseVote(main, other [][]race.Instant) Vote {
	ds, tags := differences(main, other)
	if len(ds) == 0 {
		return Vote{Why: "no tag was seen by both"}
	}
	v := voteBy(ds, tags, voteBin)
	for bin := race.Millis(voteBin / 2); v.contested() && bin >= voteFinest; bin /= 2 {
		finer := voteBy(ds, tags, bin)
		if 2*finer.pile < v.pile { // the right ones part as well
			break
		}
		if finer.OK {
			return finer
		}
	}
	return v
}

// contested tells whether another offset has too many votes beside one of its turns.
func (v *Vote) contested() bool { return !v.OK && v.weakest < voteClear*v.RunnerUp }

// voteBy is the vote of differences that pile up in bins of this width.
func voteBy(ds []difference, tags int, bin race.Millis) Vote {
	modes := findModes(ds, bin)
	pile := modes[0].votes
	fold, folded := foldOf(ds, modes)
	if folded {
		ds = unfolded(ds, fold)
		modes = findModes(ds, bin)
	}
	v := Vote{Votes: modes[0].votes, Offset: modes[0].offset(ds), Tags: tags, pile: pile}
	kept, weakest, runnerUp := turnsOf(ds, modes)
	v.RunnerUp, v.weakest, v.Turns = runnerUp, weakest, turns(ds, kept)
	if v.Named = Named(v.Offset); folded {
		v.Fold = &fold
	}
	switch {
	case weakest < voteClear*v.RunnerUp:
		v.Why = fmt.Sprintf("%d crossings of common tags agree on %s, but %d agree on another offset: not clear", v.Votes, seconds(v.Offset), v.RunnerUp)
	case v.Votes < voteLeast && (v.Votes < voteFewest || 5*v.Votes < 3*tags):
		v.Why = fmt.Sprintf("only %d crossings of common tags agree on %s: too few", v.Votes, seconds(v.Offset))
	default:
		v.OK = true
	}
	return v
}

// differences lists all of them, by size, and counts the tags that gave any. Of a great
// field every second, third … tag is enough.
func differences(main, other [][]race.Instant) ([]difference, int) {
	total := 0
	for k := range min(len(main), len(other)) {
		total += min(len(main[k]), perTag) * min(len(other[k]), perTag)
	}
	stride := 1 + total/voteEnough
	ds := make([]difference, 0, total/stride+perTag*perTag)
	tags := 0
	for k := 0; k < min(len(main), len(other)); k += stride {
		a, b := spread(main[k], k/stride), spread(other[k], k/stride)
		if len(a) > 0 && len(b) > 0 {
			tags++
		}
		for _, m := range a {
			for _, o := range b {
				if m.Known() && o.Known() && !tooFar(m) && !tooFar(o) {
					ds = append(ds, difference{o.Sub(m), m, int32(k), len(a) < len(main[k]) || len(b) < len(other[k])})
				}
			}
		}
	}
	sortBySize(ds)
	return ds, tags
}

// spread keeps at most perTag of a tag's bursts, one after another so that both logs keep the same
// crossings, and of each tag at another time of the race: who stays by the antenna must not
// outvote the others.
func spread(ts []race.Instant, tag int) []race.Instant {
	if len(ts) <= perTag {
		return ts
	}
	from := tag % spreadOver * (len(ts) - perTag) / (spreadOver - 1)
	return ts[from : from+perTag]
}

// mode is a second of differences in which they pile up, or less: ds[from:to].
type mode struct{ votes, from, to int }

// offset is the median of what lies about the mode.
func (m mode) offset(ds []difference) race.Millis {
	mid := ds[m.from].by + (ds[m.to-1].by-ds[m.from].by)/2
	lo, hi := m.from, m.to
	for lo > 0 && mid-ds[lo-1].by <= voteReach {
		lo--
	}
	for hi < len(ds) && ds[hi].by-mid <= voteReach {
		hi++
	}
	return ds[lo+(hi-lo)/2].by
}

// edges are from where to where a mode's differences pile up, but for the outermost tenth on
// either side: coincidences fill the second in which they are looked for.
func (m mode) edges(ds []difference) (low, high race.Millis) {
	few := m.votes / 10
	return ds[m.from+few].by, ds[m.to-1-few].by
}

// findModes lists the greatest piles that lie apart from each other, greatest first; of
// equal ones the least offset.
func findModes(ds []difference, width race.Millis) []mode {
	var all []mode
	for i, end, next := 0, 0, 0; i < len(ds); i = next {
		bin := floorDiv(ds[i].by, width)
		for next = i; next < len(ds) && floorDiv(ds[next].by, width) == bin; next++ {
		}
		for end = next; end < len(ds) && floorDiv(ds[end].by, width) == bin+1; end++ {
		}
		all = append(all, mode{end - i, i, end})
	}
	slices.SortStableFunc(all, func(a, b mode) int { return cmp.Compare(b.votes, a.votes) })
	var out []mode
	for _, m := range all {
		apart := true
		for _, o := range out {
			low, high := m.edges(ds)
			least, most := o.edges(ds)
			apart = apart && (low-most > voteApart || least-high > voteApart)
		}
		if apart {
			if out = append(out, m); len(out) > turnModes {
				break
			}
		}
	}
	return out
}

func floorDiv(a, b race.Millis) race.Millis {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// Named says what an offset of this size usually is, "" for none. GPS time has run 18 s
// ahead of UTC since 2017, TAI 37 s (IERS Bulletin C 52).
func Named(offset race.Millis) string {
	const hour, day, near = 3600_000, 86400_000, 2500
	abs, way := offset, "ahead"
	if offset < 0 {
		abs, way = -offset, "behind"
	}
	within := func(unit race.Millis) (int64, bool) {
		n := int64(math.Round(float64(abs) / float64(unit)))
		return n, n > 0 && max(abs-race.Millis(n)*unit, race.Millis(n)*unit-abs) <= near
	}
	if n, ok := within(day); ok {
		return fmt.Sprintf("%s %s: a wrong date?", race.Counted(int(n), "day", "days"), way)
	}
	if n, ok := within(hour); ok {
		if n <= 14 {
			return fmt.Sprintf("%s %s: a time zone or summer time?", race.Counted(int(n), "hour", "hours"), way)
		}
		return fmt.Sprintf("%s %s: a wrong date and a time zone?", race.Counted(int(n), "hour", "hours"), way)
	}
	if n, ok := within(hour / 2); ok && n < 28 {
		return fmt.Sprintf("%g hours %s: a time zone?", float64(n)/2, way)
	}
	if math.Abs(float64(abs-18000)) <= 300 || math.Abs(float64(abs-37000)) <= 300 {
		return fmt.Sprintf("%d s %s: satellite time, which knows no leap seconds?", int64(math.Round(float64(abs)/1000)), way)
	}
	return ""
}

func seconds(d race.Millis) string { return fmt.Sprintf("%+.3f s", d.Seconds()) }
