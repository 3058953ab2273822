package course

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"twinmat/reconcile/race"
)

// bunchOf are riders who come in together every 200 s; missing lists laps that a rider's
// chip wasn't read at.
func bunchOf(riders, laps int, missing map[int][]int) []Run {
	runs := make([]Run, riders)
	for i := range runs {
		r := &runs[i]
		r.Bib = strconv.Itoa(i + 1)
		r.Times = make([]race.Instant, laps)
		for k := range laps {
			at := race.Instant(200_000*(k+1) + 100*i)
			r.Times[k] = race.NoInstant
			if !slices.Contains(missing[i], k) {
				r.Times[k] = at
				r.Laps = append(r.Laps, Crossing{At: at})
			}
		}
	}
	return runs
}

// packed is the pack of runs as Learn finds it.
func packed(c *race.Course, runs []Run) *Pack {
	read, missed := new(Field).rounds(c, runs)
	return packOf(c, runs, read, missed)
}

// What a bunch tells of a rider's gaps: two laps of who came in with it, one and a half of who
// came in alone while it was half-way round, and nothing to who rides with nobody.
func TestTheBunchTellsLaps(t *testing.T) {
	c := lapsCourse(12, 1, 2000, "bike")
	p := packed(c, bunchOf(8, 12, map[int][]int{3: {5}, 4: {5, 6}, 5: {2}}))
	if p == nil {
		t.Fatal("no bunch in a field that rides as one")
	}
	me := func(seconds ...float64) (ps []Passing) {
		for _, s := range seconds {
			ps = append(ps, Passing{At: race.Instant(math.Round(s * 1000))})
		}
		return ps
	}
	for _, x := range []struct {
		name string
		ps   []Passing
		laps float64
		with bool
	}{
		{"came in with it after two laps", me(200, 400, 600, 1000), 2, true},
		{"came in with it after three, though one of it was missed twice", me(200, 400, 600, 800, 1400), 3, true},
		{"came in alone, half a lap later", me(200, 400, 600, 900), 1.5, false},
	} {
		s := p.steps(nil, &met{}, x.ps, "99")
		if got := s[len(s)-1]; math.Abs(got.laps-x.laps) > 0.02 || got.with != x.with {
			t.Errorf("%s: %.2f laps, together %v; want %.2f, %v", x.name, got.laps, got.with, x.laps, x.with)
		}
	}
	alone := p.steps(nil, &met{}, me(90, 290, 490, 690), "99")
	if got := alone[len(alone)-1]; got.laps == got.laps {
		t.Errorf("who rides alone, lap for lap, is told %.2f laps", got.laps)
	}
}

// A field that is spread out, lap after lap, rides in no bunches, and neither does one whose
// course has no laps.
func TestNoBunchWhereNobodyRidesTogether(t *testing.T) {
	c := lapsCourse(12, 1, 2000, "bike")
	runs := bunchOf(8, 12, nil)
	for i := range runs {
		for k := range runs[i].Laps {
			runs[i].Laps[k].At = runs[i].Laps[k].At.Add(race.Millis(1000 * i * (k + 5)))
		}
	}
	if packed(c, runs) != nil {
		t.Error("a bunch was found in a field that is spread out")
	}
	if packed(splits("run", [2]float64{0, 5000}, [2]float64{1, 10000}), bunchOf(8, 2, nil)) != nil {
		t.Error("a bunch was found on a course without laps")
	}
}

// Who was beside one at another crossing lately is told as by looking through all of them, crossing by
// crossing, however often somebody is there twice.
func TestMatesAreThoseWhoWereMetLately(t *testing.T) {
	plain := func(beside [][]int32, k int) (mates []int32) {
		for _, r := range beside[k] {
			for n := max(0, k-lately); n <= min(len(beside)-1, k+lately); n++ {
				if n != k && slices.Contains(beside[n], r) {
					mates = append(mates, r)
					break
				}
			}
		}
		return mates
	}
	var m met // used again, as the search does
	found := 0
	for seed := range uint64(300) {
		g := rand.New(rand.NewPCG(seed, 7))
		p := &Pack{by: make([][]race.Instant, 1+g.IntN(40))}
		for range g.IntN(600) {
			p.all = append(p.all, crossed{race.Instant(g.IntN(90_000)), int32(g.IntN(len(p.by)))})
		}
		slices.SortFunc(p.all, func(a, b crossed) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.rider, b.rider)) })
		var ps []Passing
		for at := race.Instant(0); at < 90_000; at += race.Instant(1 + g.IntN(9000)) {
			ps = append(ps, Passing{At: at})
		}
		m.gather(p, ps, 0)
		var beside [][]int32
		for k := range ps {
			beside = append(beside, p.beside(nil, ps[k].At, 0))
		}
		for n := range ps {
			k := max(0, n-1)
			if m.matesAt(k); !slices.Equal(m.mates, plain(beside, k)) {
				t.Fatalf("seed %d, crossing %d: %v are met again, want %v", seed, k, m.mates, plain(beside, k))
			}
			found += len(m.mates)
		}
		if m.done(); slices.ContainsFunc(m.seen, func(n int32) bool { return n != 0 }) {
			t.Fatalf("seed %d: something is left of who was seen", seed)
		}
	}
	if found < 1000 {
		t.Fatalf("only %d were met again", found)
	}
}
