// Package passing turns reads into passings: session windows cut a bib's reads at a line
// into bursts, and the bursts of two systems are joined one to one.
package passing

import (
	"slices"

	"twinmat/reconcile/race"
)

// Own is one tag's reads in one log, sorted by time, as far as they belong to one bib.
type Own struct {
	Tag      string
	Reads    []race.Read
	At, From int32 // where they stand: at which of the log's tags, from which of its reads
}

// Rule says how a bib's reads at one line in one log become bursts.
type Rule struct {
	Source int
	Window race.Millis
	Cut    race.Instant // a burst never runs over this moment (on the log's clock); NoInstant: none
	Centre bool         // somebody keeps the centre: work it out
	Wide   bool         // work out what strengths tell of the crossing: a clock rests on it
}

// Bursts appends the bursts of one bib in one log to dst, in order of time. A gap of
// Window or more ends a burst (a session window: the burst is open so long as reads keep
// coming), and so does the moment Cut.
func Bursts(dst []race.Burst, own []Own, r Rule) []race.Burst {
	if len(own) == 1 { // nearly everybody
		return cut(dst, own[0].Reads, r, own)
	}
	var all []race.Read
	for _, o := range own {
		all = merged(all, o.Reads)
	}
	if !slices.IsSortedFunc(all, race.CompareReads) { // of one moment, in another order than that
		slices.SortStableFunc(all, race.CompareReads)
	}
	return cut(dst, all, r, own)
}

// merged are two chips' reads in order.
func merged(a, b []race.Read) []race.Read {
	out := make([]race.Read, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if race.CompareReads(b[0], a[0]) < 0 {
			out, b = append(out, b[0]), b[1:]
		} else {
			out, a = append(out, a[0]), a[1:]
		}
	}
	return append(append(out, a...), b...)
}

func cut(dst []race.Burst, reads []race.Read, r Rule, own []Own) []race.Burst {
	from := 0
	for i := 1; i <= len(reads); i++ {
		if i < len(reads) && race.Millis(reads[i].At-reads[i-1].At) < r.Window && race.Millis(reads[i].At-reads[from].At) <= race.LongestBurst &&
			!(r.Cut.Known() && reads[i-1].At < r.Cut && reads[i].At >= r.Cut) {
			continue
		}
		dst = append(dst, burst(reads, from, i, r, own))
		from = i
	}
	return dst
}

// burst is that of the reads from one to before another.
func burst(all []race.Read, from, to int, r Rule, own []Own) race.Burst {
	reads := all[from:to:to]
	b := race.Burst{Source: int32(r.Source), First: reads[0].At, Peak: race.NoRSSI, Count: int32(len(reads))}
	b.SetLast(reads[len(reads)-1].At)
	strongest := 0
	for i := range reads {
		if reads[i].RSSI > b.Peak { // the earliest of equals
			b.Peak, strongest = reads[i].RSSI, i
		}
	}
	b.SetStrongest(reads[strongest].At)
	if r.Centre && b.Peak != race.NoRSSI {
		b.SetCentre(Centre(reads))
	}
	if r.Wide && b.Peak != race.NoRSSI {
		b.SetCrest(Profile(reads))
	}
	if len(own) == 1 {
		b.SetReads(own[0].At, own[0].From+int32(from))
		return b
	}
	var tags []string
	for _, o := range own {
		if i, _ := slices.BinarySearchFunc(o.Reads, b.First, func(x race.Read, t race.Instant) int { return int(x.At - t) }); i < len(o.Reads) && o.Reads[i].At <= b.Last() {
			tags = append(tags, o.Tag)
		}
	}
	b.SetSeveral(tags, reads)
	return b
}
