package robust

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMedianAndSelectionAgreeWithSorting(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 2))
	for trial := range 2000 {
		xs := make([]float64, 1+g.IntN(60))
		for i := range xs {
			if xs[i] = float64(g.IntN(12)); trial%2 == 0 {
				xs[i] = g.NormFloat64()
			}
		}
		s := slices.Sorted(slices.Values(xs))
		want := s[len(s)/2]
		if len(s)%2 == 0 {
			want = (s[len(s)/2-1] + want) / 2
		}
		if got := Median(slices.Clone(xs)); got != want {
			t.Fatalf("median of %v is %v, want %v", xs, got, want)
		}
		k := g.IntN(len(xs))
		ys := slices.Clone(xs)
		if got := Nth(ys, k); got != s[k] {
			t.Fatalf("%d-th of %v is %v, want %v", k, xs, got, s[k])
		}
		if slices.Max(ys[:k+1]) > s[k] || slices.Min(ys[k:]) < s[k] {
			t.Fatalf("the %d-th stands among greater or smaller ones: %v", k, ys)
		}
		if slices.Sort(ys); !slices.Equal(ys, s) {
			t.Fatalf("selection lost values of %v", xs)
		}
	}
	if x := Median(nil); !math.IsNaN(x) {
		t.Errorf("the median of nothing is %v", x)
	}
}

// R's stats::mad examples, the textbook set 1 1 2 2 4 6 9, Kvasaheim's exercise.
func TestSpreadIsTheScaledMAD(t *testing.T) {
	for _, x := range []struct {
		xs         []float64
		centre, sd float64
	}{
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9}, 5, 2.9652},
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 100}, 5, 2.9652},
		{[]float64{1, 1, 2, 2, 4, 6, 9}, 2, 1.4826},
		{[]float64{43, 50, 11, 74, 52, 83, 72}, 52, 29.652},
	} {
		c, sd := Spread(slices.Clone(x.xs))
		if c != x.centre || math.Abs(sd-x.sd) > 1e-9 {
			t.Errorf("%v: %v about %v, want %v about %v", x.xs, sd, c, x.sd, x.centre)
		}
	}
}
