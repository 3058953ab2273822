package standing

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"twinmat/reconcile/race"
	"twinmat/reconcile/result"
)

// What is told of a race that goes on is what is told of the same race by itself.
func TestAWatchThatGoesOnIsOneAnew(t *testing.T) {
	const people = 60
	for seed := range uint64(150) {
		g := rand.New(rand.NewPCG(seed, 11))
		st := field()
		of := st.Results[0]
		st.Results, st.Strays, st.Expected = nil, nil, slices.Repeat([]race.Instant{race.NoInstant}, people)
		for i := range people {
			r := *of
			r.Athlete = race.Athlete{Bib: fmt.Sprint(i), Sex: []string{"m", "F", "f", ""}[g.IntN(4)]}
			r.Passings, r.Filled, r.State, r.Finish, r.Official = nil, []int{-1, -1, -1}, "unseen", -1, race.NoMillis
			st.Results = append(st.Results, &r)
		}
		known := &result.Ranking{}
		var w *Watch
		goneOn := 0
		for step := range 150 {
			next := *st
			next.Results, next.Strays = slices.Clone(st.Results), slices.Clone(st.Strays)
			for range g.IntN(3) {
				i := g.IntN(people)
				next.Results[i] = goesOn(g, st.Results[i])
			}
			if g.IntN(10) == 0 {
				at := race.Passing{At: of.Gun.Add(race.Millis(1000 * g.IntN(80))), Split: -1}
				next.Strays = slices.Insert(next.Strays, g.IntN(len(next.Strays)+1), race.StrayTag{Tag: fmt.Sprint("X", step), Ignored: g.IntN(4) == 0, Passings: []race.Passing{at}})
			}
			result.Rank(&next, known)
			next.Expected = slices.Clone(st.Expected)
			for range g.IntN(4) {
				next.Expected[g.IntN(people)] = []race.Instant{race.NoInstant, next.Now.Add(race.Millis(1000 * g.IntN(40)))}[g.IntN(2)]
			}
			st = &next
			w = Look(st, 25, w)
			anew := Look(st, 25, nil)
			if !w.Whole {
				goneOn++
			}
			for _, x := range []struct{ got, want any }{{w.Boards, anew.Boards}, {w.Latest, anew.Latest}, {w.Tally, anew.Tally}, {w.In, anew.In}, {w.Out, anew.Out}, {w.Out, len(outOf(w))}, {outOf(w), outOf(anew)}} {
				if !reflect.DeepEqual(x.got, x.want) {
					t.Fatalf("seed %d, step %d:\n%+v, anew\n%+v", seed, step, x.got, x.want)
				}
			}
		}
		if goneOn < 100 {
			t.Fatalf("seed %d: only %d watches went on", seed, goneOn)
		}
	}
}

// outOf are who is still out, in order.
func outOf(w *Watch) (all []int) {
	w.StillOut(func(i int) bool {
		all = append(all, i)
		return true
	})
	return all
}

// goesOn is a result one passing on, or with another time, status or one passing less.
func goesOn(g *rand.Rand, of *race.Result) *race.Result {
	r := *of
	r.Passings, r.Filled = slices.Clone(of.Passings), slices.Clone(of.Filled)
	n := len(r.Passings)
	switch k := g.IntN(12); {
	case k < 8 && n < 3:
		at := r.Gun.Add(race.Millis(1000 * (20*n + g.IntN(6))))
		r.Passings, r.Filled[n] = append(r.Passings, race.Passing{At: at, Split: n}), n
	case k == 8 && n > 0:
		r.Passings, r.Filled[n-1] = r.Passings[:n-1], -1
	case k == 9:
		r.State = race.DSQ
		return &r
	case n > 0:
		p := &r.Passings[n-1]
		p.At = p.At.Add(race.Millis(1000 * (g.IntN(9) - 4)))
	}
	r.State, r.Finish, r.GunTime, r.Official = "unseen", -1, race.NoMillis, race.NoMillis
	switch n := len(r.Passings); {
	case n == 3:
		r.State, r.Finish, r.GunTime = race.Clean, 2, r.Passings[2].At.Sub(r.Gun)
		r.Official = r.GunTime
	case n > 0:
		r.State = race.Running
	}
	return &r
}
