package course

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// What a field teaches of splits from one on is nobody's matter who was read at no line that the course
// comes to from there, however far they have come; seeds 0 to 39, three rows each time.
func TestWhatIsTaughtOfLaterSplitsIsNobodysWhoWasNotThere(t *testing.T) {
	for _, make := range []func(uint64) *maker{away, triathlon} {
		same, others := 0, 0
		for seed := range uint64(40) {
			rng := rand.New(rand.NewPCG(seed, 5))
			m := make(seed)
			_, f := m.twice()
			rows := [][]float64{f.Factor, f.Scatter, f.Miss}
			for row := range rows {
				g := f
				g.Factor, g.Scatter, g.Miss = slices.Clone(f.Factor), slices.Clone(f.Scatter), slices.Clone(f.Miss)
				for k := rng.IntN(len(f.Factor)); k < len(f.Factor); k++ {
					[][]float64{g.Factor, g.Scatter, g.Miss}[row][k] += 0.4 * rng.Float64()
				}
				d := Differ(&f, &g)
				if d.All {
					t.Fatal("rows alone are others, and all are to be asked again")
				}
				for i := range m.all {
					ps := m.all[i].passings()
					ps = ps[:rng.IntN(len(ps)+1)]
					was := Assign(m.c, ps, m.all[i].a, &f)
					x, y, from := fmt.Sprint(was), fmt.Sprint(Assign(m.c, ps, m.all[i].a, &g)), d.From
					if was.Searched {
						from = d.Searched
					}
					switch there := slices.ContainsFunc(ps, func(p Passing) bool {
						return slices.ContainsFunc(m.c.Splits[min(from, len(m.c.Splits)):], func(s race.Split) bool { return s.Line == p.Line })
					}); {
					case there && x != y:
						others++
					case !there && x != y:
						t.Fatalf("seed %d, from split %d on, row %d: %v\n%s\n%s", seed, from, row, ps, x, y)
					case !there && len(ps) > 0:
						same++
					}
				}
			}
		}
		if same < 100 || others < 200 {
			t.Errorf("%d stay and %d don't: too few to tell", same, others)
		}
	}
}

// away is a road that ends on a line of its own.
func away(seed uint64) *maker {
	m := road(seed)
	last := len(m.c.Splits) - 1
	m.c.Splits[last].Line = last
	for i := range m.all {
		for k := range m.all[i].seen {
			if x := &m.all[i].seen[k]; x.split == last {
				x.Line = last
			}
		}
	}
	return m
}

func TestFieldsThatAreOneDifferNowhere(t *testing.T) {
	f := Field{N: 9, Factor: []float64{1, 2}, Scatter: []float64{1, 2}, Miss: []float64{0, 0}}
	g := f
	if d := Differ(&f, &g); d != (Difference{From: math.MaxInt, Searched: math.MaxInt}) {
		t.Errorf("%+v", d)
	}
	g.Extra = 0.1
	if !Differ(&f, &g).All {
		t.Error("a field that teaches more of what fits nothing teaches all")
	}
}
