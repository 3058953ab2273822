// Package robust holds what a field tells of itself though some of it is wrong: medians, and
// spreads about them, which outliers don't move.
package robust

import (
	"math"
	"slices"
)

// PerMAD makes a median absolute deviation a standard deviation where the middle of the
// field is normal: 1/Φ⁻¹(3/4), as R's stats::mad.
const PerMAD = 1.4826

// fewest values are sorted sooner than one of them is selected.
const fewest = 12

// Median of xs, which it reorders, the mean of the middle two of an even number; NaN for none.
func Median(xs []float64) float64 {
	n := len(xs)
	if n == 0 {
		return math.NaN()
	}
	hi := Nth(xs, n/2)
	if n%2 == 1 {
		return hi
	}
	return (slices.Max(xs[:n/2]) + hi) / 2
}

// Spread is the robust standard deviation of xs about their median; xs is reordered
// (Hampel, JASA 69 (1974) 383).
func Spread(xs []float64) (centre, sd float64) {
	c := Median(xs)
	away := make([]float64, len(xs))
	for i, x := range xs {
		away[i] = math.Abs(x - c)
	}
	return c, PerMAD * Median(away)
}

// Nth puts the k-th smallest at its place, smaller ones before it and greater ones behind,
// and gives it (Hoare, CACM 4 (1961) 321; the pivot is the median of three, so that sorted
// input is cheap).
func Nth(xs []float64, k int) float64 {
	if len(xs) <= fewest {
		for i := 1; i < len(xs); i++ {
			for j := i; j > 0 && xs[j] < xs[j-1]; j-- {
				xs[j], xs[j-1] = xs[j-1], xs[j]
			}
		}
		return xs[k]
	}
	lo, hi := 0, len(xs)-1
	for lo < hi {
		a, b, c := xs[lo], xs[lo+(hi-lo)/2], xs[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for xs[i] < pivot {
				i++
			}
			for xs[j] > pivot {
				j--
			}
			if i <= j {
				xs[i], xs[j] = xs[j], xs[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return xs[k]
		}
	}
	return xs[k]
}
