package clock

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Turn is an offset that holds from a moment on.
type Turn struct {
	From   race.Instant // on main's clock, unfolded; NoInstant: from the beginning
	Offset race.Millis
	Votes  int

	since, until race.Instant // when it is voted for
}

// Lay turns a time of the log into main's clock. Of two moments that a clock which was set
// back tells alike it takes the one nearest to about, the earlier where that isn't known.
func (v *Vote) Lay(at, about race.Instant) race.Instant {
	back := shift(v.Fold, at)
	if about.Known() {
		about = about.Add(back)
	}
	best, of, found := at.Add(-v.Offset), 0, false
	for i, t := range v.Turns {
		u := at.Add(-t.Offset)
		after, before := i == 0 || u >= t.From, i+1 == len(v.Turns) || u < v.Turns[i+1].From
		switch {
		case !before || found && (!after || !about.Known() || apartBy(u, about) >= apartBy(best, about)):
		default: // what falls in no turn lies in the time that a clock set forward left out
			best, of, found = u, i, true
		}
	}
	if found && best < v.Turns[of].since {
		best = v.later(at, best, of)
	}
	for i := 0; about.Known() && i < len(v.Turns) && apartBy(best, about) > voteApart; i++ {
		// Where the votes part two turns is known but roughly.
		u := at.Add(-v.Turns[i].Offset)
		if (i == 0 || u >= v.Turns[i].From.Add(-turnSlack)) && (i+1 == len(v.Turns) || u < v.Turns[i+1].From.Add(turnSlack)) && apartBy(u, about) < voteApart {
			best = u
		}
	}
	return best.Add(-back)
}

// later is the time that a turn after number k gives, where that lies in its votes, or nearer to
// them than k's lies before its own: what a clock that was set back tells while the other misses
// somebody isn't an hour before the race.
func (v *Vote) later(at, best race.Instant, k int) race.Instant {
	least := v.Turns[k].since.Sub(best)
	for i := k + 1; i < len(v.Turns); i++ {
		t := &v.Turns[i]
		if u := at.Add(-t.Offset); u > v.Turns[i-1].until && outside(u, t.since, t.until) < least {
			best, least = u, outside(u, t.since, t.until)
		}
	}
	return best
}

// outside is how far a moment lies outside a span.
func outside(t, from, to race.Instant) race.Millis { return max(0, from.Sub(t), t.Sub(to)) }

// Few are the moments at which a clock was set of which so few crossings tell that a fit would
// take them for gross ones.
func (v *Vote) Few() []race.Instant {
	var out []race.Instant
	for i, t := range v.Turns {
		if i > 0 && min(t.Votes, v.Turns[i-1].Votes) < stepSide {
			out = append(out, t.From)
		}
	}
	return out
}

// SetBack tells whether either clock was set back: a later time of the log may be an earlier one
// of main's.
func (v *Vote) SetBack() bool {
	if v.Fold != nil {
		return true
	}
	for i := 1; i < len(v.Turns); i++ {
		if v.Turns[i].Offset < v.Turns[i-1].Offset {
			return true
		}
	}
	return false
}

// held is a mode with the time that it holds in.
type held struct {
	mode
	offset       race.Millis
	since, until race.Instant   // on main's clock, but for the odd ones out
	at           []race.Instant // sorted
}

// turnsOf takes modes that hold at different times for the same clock, set anew during the
// race, and tells the votes of the least of them that is held against the whole race, and
// those of the greatest mode that is none of them.
func turnsOf(ds []difference, modes []mode) (kept []held, weakest, runnerUp int) {
	kept = []held{hold(modes[0], modes[0].offset(ds), modes[0].times(ds, byMain))}
	for _, m := range modes[1:] {
		h := hold(m, m.offset(ds), m.times(ds, byMain))
		if clockless(h, kept[0]) {
			continue
		}
		room, ok := besideAll(ds, kept, h)
		if ok && m.votes >= voteLeast && dense(ds, h) && 2*len(lonely(ds[m.from:m.to], ds, kept)) >= m.votes {
			kept = append(room, h)
		} else {
			runnerUp = max(runnerUp, m.votes)
		}
	}
	clear := func(k held) bool { return k.votes == modes[0].votes || k.votes >= voteClear*runnerUp }
	sure := slices.DeleteFunc(slices.Clone(kept), func(k held) bool { return !clear(k) })
	ends := slices.DeleteFunc(atTheEnds(ds, sure), func(h held) bool { return clockless(h, kept[0]) })
	weakest = modes[0].votes
	for _, k := range kept {
		if clear(k) {
			weakest = min(weakest, k.votes)
		} else if farFrom(k.offset, ends) && farFrom(k.offset, sure) { // nearer, it may be the way between antennas, walked
			weakest, sure = min(weakest, k.votes), append(sure, k)
		}
	}
	return append(sure, ends...), weakest, runnerUp
}

// clockless tells whether a mode holds while main had no clock yet: the other log alone tells when that was.
func clockless(h, most held) bool { return most.since.Sub(h.until) > turnReach }

// besideAll makes room for a mode among those that are kept, and tells whether each of them holds at
// another time. A reader that starts anew with a wrong clock is mostly set right again: what holds before
// and after, and for next to nobody meanwhile, is two that are alike. If that reader was main, no time
// of its is what it was, and main's times tell no turns.
func besideAll(ds []difference, kept []held, h held) ([]held, bool) {
	room := make([]held, 0, len(kept)+2)
	for _, k := range kept {
		if h.since >= k.until || h.until <= k.since { // who crossed just then may be of both
			room = append(room, k)
			continue
		}
		from, to, ok := about(k.at, h)
		if !ok || mainStarted(ds, append(kept[:len(kept):len(kept)], h), [2][2]race.Instant{{k.at[from-1], h.since}, {h.until, k.at[to]}}, k.offset, h.offset) {
			return nil, false
		}
		room = append(room, hold(k.mode, k.offset, k.at[:from]), hold(k.mode, k.offset, k.at[to:]))
	}
	return room, true
}

// about finds how many moments lie before a mode's time and how many not after it, if next to none lie
// between.
func about(at []race.Instant, h held) (from, to int, ok bool) {
	from, _ = slices.BinarySearch(at, h.since)
	to, _ = slices.BinarySearch(at, h.until)
	return from, to, from >= voteFewest && len(at)-to >= voteFewest && turnStray*(to-from) <= h.votes
}

// mainStarted tells whether it was main that started anew: a reader that does reads nobody for a while,
// and its twin reads on. The gaps, on main's clock, lie beside a mode's time; before and after them another
// offset holds.
func mainStarted(ds []difference, all []held, gaps [2][2]race.Instant, out, in race.Millis) bool {
	byOther := [2][2]race.Instant{{gaps[0][0].Add(out), gaps[0][1].Add(in)}, {gaps[1][0].Add(in), gaps[1][1].Add(out)}}
	within := func(t race.Instant, gaps *[2][2]race.Instant) bool {
		return t > gaps[0][0] && t < gaps[0][1] || t > gaps[1][0] && t < gaps[1][1]
	}
	type burst struct {
		tag  int32
		main bool
		at   race.Instant
	}
	alone := map[burst]bool{}
	note := func(d difference, so bool) {
		if within(d.main, &gaps) {
			alone[burst{d.tag, true, d.main}] = so
		}
		if o := d.main.Add(d.by); within(o, &byOther) {
			alone[burst{d.tag, false, o}] = so
		}
	}
	for _, d := range ds {
		note(d, true)
	}
	for d := range explained(ds, all) {
		note(d, false)
	}
	mains, others := 0, 0 // crossings more that it alone read than both did
	for b, so := range alone {
		n := 1
		if !so {
			n = -1
		}
		if b.main {
			mains += n
		} else {
			others += n
		}
	}
	return others > max(mains, 0)
}

// hold is a mode with its times on main's clock, sorted.
func hold(m mode, offset race.Millis, at []race.Instant) held {
	cut := int(float64(len(at)) * (1 - turnStretch) / 2)
	return held{m, offset, at[cut], at[len(at)-1-cut], at}
}

// turns are modes that hold at different times, in that order.
func turns(ds []difference, kept []held) []Turn {
	slices.SortFunc(kept, func(a, b held) int { return cmp.Compare(a.since, b.since) })
	out := make([]Turn, len(kept))
	for i, k := range kept {
		out[i] = Turn{From: race.NoInstant, Offset: k.offset, Votes: min(k.votes, len(k.at)), since: k.since, until: k.until}
		if i > 0 {
			out[i].From, _ = parted(withBetween(ds, kept[i-1], k), withBetween(ds, k, kept[i-1]))
		}
	}
	return out
}

// withBetween are the moments of a mode and of those between it and another who lie about it, nearer
// than about the other: a vote counts one second, and who comes on at another pace, or back past
// antennas some metres apart, is beside it.
func withBetween(ds []difference, k, other held) []race.Instant {
	from, to := min(k.until, other.until), max(k.since, other.since)
	at := slices.Clone(k.at)
	first, _ := slices.BinarySearchFunc(ds, k.offset-voteApart, func(d difference, by race.Millis) int { return cmp.Compare(d.by, by) })
	for _, d := range ds[first:] {
		if d.by > k.offset+voteApart {
			break
		}
		if d.main > from && d.main < to && max(d.by-k.offset, k.offset-d.by) < max(d.by-other.offset, other.offset-d.by) {
			at = append(at, d.main)
		}
	}
	slices.Sort(at)
	return slices.Compact(at) // who is near its end was a vote of it already
}

// parted is the moment that parts two sorted lists with the fewest on the wrong side, and how
// many those are.
func parted(before, after []race.Instant) (best race.Instant, wrong int) {
	best, wrong = after[0], len(before)
	i, j := 0, 0 // so many lie before the moment that is tried
	for i < len(before) || j < len(after) {
		if j == len(after) || i < len(before) && before[i] <= after[j] {
			i++
		} else {
			j++
		}
		if w := len(before) - i + j; w < wrong {
			last, next := race.Instant(math.MinInt64), race.Instant(math.MaxInt64)
			for _, l := range []struct {
				of []race.Instant
				n  int
			}{{before, i}, {after, j}} {
				if l.n > 0 {
					last = max(last, l.of[l.n-1])
				}
				if l.n < len(l.of) {
					next = min(next, l.of[l.n])
				}
			}
			if next < math.MaxInt64 {
				best, wrong = halfWay(last, next)+1, w
			}
		}
	}
	return best, wrong
}

// dense tells whether a mode holds at least half of the crossings of main in its time that
// have any partner: a clock that was set holds them all, a coincidence a few.
func dense(ds []difference, h held) bool {
	var mine, all []race.Instant
	for _, d := range ds {
		if d.main < h.since || d.main > h.until {
			continue
		}
		all = append(all, d.main)
		if max(d.by-h.offset, h.offset-d.by) <= voteReach {
			mine = append(mine, d.main)
		}
	}
	count := func(ts []race.Instant) int {
		slices.Sort(ts)
		return len(slices.Compact(ts))
	}
	return 2*count(mine) >= count(all)
}

// withoutFaintVotes takes out the boundaries that the vote found and the fit does not bear out. A vote
// knows no speeds: where the field turns round, or walkers come after runners, antennas some metres apart
// make two offsets of one. With behind known, what is left of the jump is less than any clock is set by,
// or than can be told from none.
func (q *problem) withoutFaintVotes() {
	for k := q.levels - 1; k > 0; k-- {
		if q.begun[k] != byVote || q.drifts > 1 || q.c.Fold != nil {
			continue
		}
		cov, _ := q.covary()
		if at, _ := slices.BinarySearch(q.stretch, int32(k)); at < len(q.t) && math.Abs(q.b[k]-q.b[k-1]) < max(q.leastTold(), 1.96*cov.jumpSE(k, q.t[at])) {
			q.merge(k)
			q.settle(settled)
		}
	}
}
