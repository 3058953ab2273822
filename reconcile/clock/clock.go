// Package clock aligns one timing system's clock to another's: main's, the line's
// reference.
//
// The chain: CoarseVote finds the offset among all differences of common tags; from the
// crossings that both systems saw, which the engine joins by it, Fit models
//
//	other − main = level + drift·t + behind·u      u = 1/speed at the line, in s/m
//
// robustly, with a level of its own for each stretch between two steps of the clock.
// A Model turns a time of that log into what main would have kept, with a 95 % interval
// that rests on how far the pairs themselves lie from the model.
//
// Everything is a pure function of its arguments, whatever their order: the pairs are
// sorted first, random starts have a fixed seed, and what is published is rounded.
// Instants are whole milliseconds and are subtracted before they become float64 seconds.
package clock

import (
	"cmp"
	"math"
	"slices"
	"time"

	"twinmat/reconcile/race"
)

// Pair is one crossing that both systems saw.
type Pair struct {
	Main    race.Instant // on the race clock
	Other   race.Instant // on that log's own clock
	U       float64      // slowness at the line in s/m; NaN: unknown
	Long    float64      // how long this log's burst was, seconds; NaN or 0: unknown
	Mid     float64      // how long after the kept read, or after the middle of first and last, its middle was, seconds; NaN, or 0 without Wide: unknown
	Wide    float64      // how long until its strengths had fallen by 6 dB, seconds; NaN or 0: unknown
	Beside  float64      // how long main's burst of it was, seconds; NaN or 0: unknown
	Reads   int          // how many it has; 0: unknown
	ByBurst bool         // U is told by the burst's length alone
	Group   int          // split or direction: each has a distance of its own between the antennas
	Tag     int
	Early   bool // before the gun
}

// Crossing is what is known of a crossing but its times; its fields are Pair's.
type Crossing struct {
	U, Long, Mid, Wide, Beside float64
	Reads                      int
	ByBurst                    bool
	Group                      int
}

// Crossing is the pair's own.
func (p *Pair) Crossing() Crossing {
	return Crossing{p.U, p.Long, p.Mid, p.Wide, p.Beside, p.Reads, p.ByBurst, p.Group}
}

// Config is what is known of a log before its pairs are looked at.
type Config struct {
	Fixed       bool
	FixedOffset race.Millis // other minus race clock, by the plan or a ruling

	BehindFixed bool
	Behind      float64 // metres past main's antenna, as run
	Groups      int     // 0 is 1
	OneWay      bool    // all groups pass the line in one direction, if not at one pace

	Hand       bool        // keyed by a person: whole seconds, reaction late by parts of one
	Resolution race.Millis // of the chips: nothing is told more finely

	Breaks       []race.Instant // on the race clock: boundaries that a ruling sets
	BreakOffsets []race.Millis  // beside Breaks: the offset from there on; NoMillis or absent: found
	Turned       []race.Instant // on the race clock: moments at which the vote found the clock set beside a few crossings
	Fold         *Fold          // where main was set back; nil: it never was
	NoSteps      bool

	SpeedPrior float64 // typical slowness at the line in s/m, where a pair's is unknown; 0: a runner's

	Every  int            // the pairs are those of every so many-th athlete; 0 is 1
	Many   int            // pairs from which on the newest wait (Newest); 0: none do
	Common int            // tags that both logs saw, crossed together or not
	Coarse race.Millis    // other minus race clock as voted: all there is while there are no pairs
	Zone   *time.Location // of the times of day in words; nil: they are left out

	lean *Model // a log on the same clock that is known better; nil: none
}

const (
	// driftSD is the spread of a quartz clock's rate in parts per million. Wrist-watch
	// crystals at room temperature keep within 20 to 30; 40 occurs.
	driftSD = 20.0

	// behindMean and behindSD: backup's antenna lies a step or two behind main's, or
	// before it (common practice), in metres.
	behindMean, behindSD = 1.0, 2.0

	// zoneSD is the spread of one system's kept read about the antenna, in metres: the
	// zone reaches two metres and a half each way. Two systems differ by √2 of it.
	zoneSD = 0.35

	runnerSlowness = 1 / 2.8 // s/m
)

// ComparePairs is the order in which pairs are taken, whatever the order they came in.
func ComparePairs(a, b Pair) int {
	if c := cmp.Or(cmp.Compare(a.Main, b.Main), cmp.Compare(a.Other, b.Other), cmp.Compare(a.Tag, b.Tag),
		cmp.Compare(a.Group, b.Group)); c != 0 {
		return c
	}
	if a.ByBurst != b.ByBurst {
		if b.ByBurst {
			return -1
		}
		return 1
	}
	return cmp.Or(cmp.Compare(a.U, b.U), cmp.Compare(a.Long, b.Long), cmp.Compare(a.Mid, b.Mid), cmp.Compare(a.Wide, b.Wide), cmp.Compare(a.Beside, b.Beside), cmp.Compare(a.Reads, b.Reads)) // NaN is least and equal to itself
}

// sound are the pairs that can be reckoned with, sorted: both times known, slowness not
// mad, group in range, main's times unfolded.
func sound(pairs []Pair, c Config) []Pair {
	out := make([]Pair, 0, len(pairs))
	for _, p := range pairs {
		if !p.Main.Known() || !p.Other.Known() || tooFar(p.Main) || tooFar(p.Other) {
			continue
		}
		if !(p.U >= leastSlowness) || p.U > maxSlowness {
			p.U = math.NaN()
		}
		p.Group = min(max(p.Group, 0), c.Groups-1)
		p.Main = p.Main.Add(shift(c.Fold, p.Other))
		out = append(out, p)
	}
	slices.SortFunc(out, ComparePairs)
	return out
}

const (
	maxSlowness   = 10.0                  // s/m: slower than this stands still
	leastSlowness = 0.005                 // s/m: nothing that wears a chip is faster
	farthest      = race.Instant(1) << 50 // ms: 35,000 years; differences stay far from overflow
)

func tooFar(t race.Instant) bool { return t > farthest || t < -farthest }
