// Package clock lays one log's clock on another's from the crossings that both saw: a vote
// for the coarse offset, then a robust fit of offset, drift and the distance between the
// antennas over the athlete's speed, piecewise where a clock was re-set, with the 95 %
// interval of what it predicts.
package clock

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Vote is a coarse offset: that clock minus the reference's.
type Vote struct {
	Offset   race.Millis
	OK       bool
	Votes    int // in the best bin and its neighbour
	RunnerUp int
	Why      string // when not OK
	Named    string // what an offset like this usually is, "" : nothing known
}

const (
	voteBin     = 500 // ms
	votesNeeded = 8
	votesFew    = 4 // enough where nothing speaks against them
	voteLead    = 3 // times the runner-up
	voteReach   = 1250
	voteCap     = 50 // bursts a tag
)

// CoarseVote finds the offset that most differences of the same tag's times share: bins of
// half a second, two neighbours summed so that no edge splits the vote, the best against
// the runner-up further than two bins away. main and other are, tag by tag, the sorted
// times of its bursts in each log; the range is unlimited.
func CoarseVote(main, other [][]race.Instant) Vote {
	var diffs []int64
	for i := range main {
		a, b := thin(main[i]), thin(other[i])
		for _, x := range a {
			for _, y := range b {
				diffs = append(diffs, int64(y-x))
			}
		}
	}
	if len(diffs) == 0 {
		return Vote{Why: "no tag was read by both"}
	}
	slices.Sort(diffs)
	best, bin := busiest(diffs, math.MinInt64, 0)
	second, _ := busiest(diffs, bin, 3)
	lo, _ := slices.BinarySearch(diffs, (bin+1)*voteBin-voteReach)
	hi, _ := slices.BinarySearch(diffs, (bin+1)*voteBin+voteReach+1)
	v := Vote{Offset: race.Millis(diffs[(lo+hi)/2]), Votes: best, RunnerUp: second}
	v.Named = named(v.Offset)
	switch {
	case best >= votesNeeded && best >= voteLead*second, best >= votesFew && second <= 1:
		v.OK = true
	case best < votesNeeded:
		v.Why = fmt.Sprintf("only %d crossings of both agree on an offset", best)
	default:
		v.Why = fmt.Sprintf("%d crossings speak for one offset and %d for another", best, second)
	}
	return v
}

// thin caps what one tag may say: a chip that lies by the antenna is no crowd.
func thin(x []race.Instant) []race.Instant {
	if len(x) > voteCap {
		return x[:voteCap]
	}
	return x
}

func bin(d int64) int64 {
	if d < 0 {
		return -((-d + voteBin - 1) / voteBin)
	}
	return d / voteBin
}

// busiest counts the fullest pair of neighbouring bins in sorted differences, but for those
// within apart bins of not.
func busiest(diffs []int64, not, apart int64) (n int, at int64) {
	j, k := 0, 0
	for i := 0; i < len(diffs); i = j {
		b := bin(diffs[i])
		for j = i; j < len(diffs) && bin(diffs[j]) == b; j++ {
		}
		for k = j; k < len(diffs) && bin(diffs[k]) == b+1; k++ {
		}
		if apart > 0 && b >= not-apart && b <= not+apart {
			continue
		}
		if k-i > n {
			n, at = k-i, b
		}
	}
	return n, at
}

// named says what an offset like this usually comes from.
func named(d race.Millis) string {
	s := d.Seconds()
	near := func(x float64) bool { return math.Abs(s-x) <= 2 }
	switch days, hours := math.Round(s/86400), math.Round(s/3600); {
	case days != 0 && near(days*86400):
		return fmt.Sprintf("%+.0f days: a wrong date", days)
	case hours != 0 && near(hours*3600):
		return fmt.Sprintf("%+.0f h: a time zone or summer time", hours)
	case math.Abs(math.Abs(s)-18) <= 0.5:
		return "18 s: satellite time without its leap seconds"
	case math.Abs(math.Abs(s)-37) <= 0.5:
		return "37 s: atomic time without its leap seconds"
	}
	return ""
}
