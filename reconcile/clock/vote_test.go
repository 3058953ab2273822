package clock

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// laps are the bursts of a field that passes a line several times, each system missing a
// tenth, backup's clock off by so many milliseconds.
func laps(tags, times int, off race.Millis, seed uint64) (main, other [][]race.Instant) {
	d := rand.New(rand.NewPCG(seed, 21))
	for range tags {
		at := zero + race.Instant(d.IntN(600_000))
		lap := 900_000 + d.NormFloat64()*90_000
		var a, b []race.Instant
		for range times {
			at += race.Instant(lap * (1 + .03*d.NormFloat64()))
			if d.Float64() > .1 {
				a = append(a, at)
			}
			if d.Float64() > .1 {
				b = append(b, at.Add(off+race.Millis(500+200*d.NormFloat64())))
			}
		}
		main, other = append(main, a), append(other, b)
	}
	return main, other
}

func TestTheVoteFindsAnyOffset(t *testing.T) {
	for _, c := range []struct {
		off   race.Millis
		named string
	}{
		{3217, ""}, {-9827, ""}, {3600_000, "1 hour ahead: a time zone"}, {-2*3600_000 + 400, "2 hours behind"}, {5*3600_000 + 1800_000, "5.5 hours ahead"},
		{86400_000 * 365, "365 days ahead: a wrong date"}, {86400_000 + 3600_000, "25 hours ahead: a wrong date and a time zone"},
		{17_600, "18 s ahead: satellite time"}, {-37_500, "37 s behind: satellite time"}, {600_000, ""},
	} {
		for _, tags := range []int{20, 300} {
			main, other := laps(tags, 3, c.off, uint64(tags))
			v := CoarseVote(main, other)
			if !v.OK || v.Offset < c.off || v.Offset > c.off+1000 {
				t.Errorf("offset %d, %d tags: %+v", c.off, tags, v)
			}
			if !strings.HasPrefix(v.Named, c.named) || c.named == "" && v.Named != "" {
				t.Errorf("offset %d: named %q, want %q", c.off, v.Named, c.named)
			}
		}
	}
}

func TestTheVoteIsRefusedWithItsReason(t *testing.T) {
	if v := CoarseVote(nil, nil); v.OK || v.Why != "no tag was seen by both" {
		t.Errorf("%+v", v)
	}
	main, other := laps(3, 1, 5000, 3)
	if v := CoarseVote(main[:1], other[:1]); v.OK || !strings.Contains(v.Why, "too few") && !strings.Contains(v.Why, "no tag") {
		t.Errorf("one tag: %+v", v)
	}
	// A bunch that stays together for every lap, laps of the same length: any lap's
	// difference is as good as another.
	main, other = nil, nil
	for i := range 30 {
		var a, b []race.Instant
		for k := range 10 {
			a = append(a, zero+race.Instant(k*200_000+i*30))
			if k >= 5 {
				b = append(b, zero+race.Instant(k*200_000+i*30+900))
			}
		}
		main, other = append(main, a), append(other, b)
	}
	if v := CoarseVote(main, other); v.OK || !strings.Contains(v.Why, "not clear") {
		t.Errorf("equal laps: %+v", v)
	}
}

func TestAVoteOfFewTagsCountsWhenNearlyAllAgree(t *testing.T) {
	main := [][]race.Instant{{zero}, {zero + 7000}, {zero + 20000}, {zero + 90_000}}
	var other [][]race.Instant
	for _, m := range main {
		other = append(other, []race.Instant{m[0] + 3300})
	}
	if v := CoarseVote(main, other); !v.OK || v.Offset != 3300 {
		t.Errorf("%+v", v)
	}
}

func TestAClockSetByAnHourDuringTheRaceTurnsTheVote(t *testing.T) {
	main, other := laps(200, 3, 3600_000, 4)
	turn := zero + 1800_000
	for k := range other {
		for i, o := range other[k] {
			if o > turn+3600_000 {
				other[k][i] = o - 3600_000 + 400
			}
		}
		slices.Sort(other[k])
	}
	v := CoarseVote(main, other)
	if !v.OK || len(v.Turns) != 2 {
		t.Fatalf("%+v", v)
	}
	if a := v.Turns[0].Offset; a < 3600_000 || a > 3601_000 {
		t.Errorf("before: %v", a)
	}
	if b := v.Turns[1].Offset; b < 500 || b > 1400 {
		t.Errorf("after: %v", b)
	}
}

// A clock that is set by an hour among crossings whose differences spread over two seconds: a
// reader that asks its antennas once a second, a line that is passed in both directions.
func TestASetClockAmongDifferencesThatSpread(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 11))
		main, other := make([][]race.Instant, 60), make([][]race.Instant, 60)
		set := 5.4e6
		for k := range main {
			at := 1e6 + 4e5*rng.Float64()
			for lap := range 4 { // out and in at once, and again an hour later
				o := at + 3.6e6 + 2400*(rng.Float64()-0.5)
				if at > set {
					o -= 3.6e6
				}
				main[k], other[k] = append(main[k], race.Instant(at)), append(other[k], race.Instant(o))
				at += 60_000 + 60_000*rng.Float64()
				if lap == 1 {
					at += 3.9e6 + 6e5*rng.Float64()
				}
			}
			slices.Sort(other[k])
		}
		if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 2 || abs(v.Turns[0].Offset-3_600_000) > 1000 || abs(v.Turns[1].Offset) > 1000 {
			t.Errorf("seed %d: %+v", seed, v)
		}
	}
}

func abs(x race.Millis) race.Millis { return max(x, -x) }

// A step that is only a little wider than a pile is two piles, wherever the half seconds fall and
// whatever coincidences fill the seconds between them.
func TestASmallStepAmongCoincidencesIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	for k := range 40 {
		off, step := race.Millis(4000+100*k), race.Millis(3100+10*k)
		var main, other [][]race.Instant
		for tag := range 50 {
			var a, b []race.Instant
			for lap := range 24 {
				at := race.Instant(145_000*(lap+1) + rng.IntN(40_000) + 10*tag)
				o := at.Add(off + race.Millis(rng.IntN(60)))
				if lap >= 12 {
					o = o.Add(step)
				}
				a, b = append(a, at), append(b, o)
				if rng.IntN(2) == 0 { // somebody stands beside the line
					b = append(b, o.Add(race.Millis(rng.IntN(16_000)-8000)))
				}
			}
			slices.Sort(b)
			main, other = append(main, a), append(other, b)
		}
		if v := CoarseVote(main, other); !v.OK || len(v.Turns) != 2 || abs(v.Turns[1].Offset-v.Turns[0].Offset-step) > 50 {
			t.Errorf("offset %d, step %d: %v %+v", off, step, v.OK, v.Turns)
		}
	}
}

// Karts ride laps so even that the differences of a wrong lap pile up in a second as well. The
// right ones stay together in ever finer bins, those before a clock was set and those after.
func TestAClockSetAmongEvenLaps(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 4))
		step := race.Millis(20_000 + 1300*seed)
		var main, other [][]race.Instant
		for k := range 20 {
			var a, b []race.Instant
			at := 400 * float64(k)
			for lap := range 18 {
				at += 47_000 + 400*rng.NormFloat64()
				o := race.Instant(at + 1300 + 3*rng.NormFloat64())
				if lap > 7 {
					o = o.Add(step)
				}
				a, b = append(a, race.Instant(at)), append(b, o)
			}
			main, other = append(main, a), append(other, b)
		}
		v := CoarseVote(main, other)
		if !v.OK || v.Fold != nil || len(v.Turns) != 2 || abs(v.Turns[0].Offset-1300) > 50 || abs(v.Turns[1].Offset-1300-step) > 50 {
			t.Errorf("step %d: %+v", step, v)
		}
	}
}
