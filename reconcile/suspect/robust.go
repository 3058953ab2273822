package suspect

import (
	"math"
	"slices"
)

// madScale makes a median absolute deviation a standard deviation where the middle of the
// field is normal: 1/qnorm(3/4), as R's stats::mad.
const madScale = 1.4826

// median of xs, which it reorders; NaN for none.
func median(xs []float64) float64 {
	n := len(xs)
	if n == 0 {
		return math.NaN()
	}
	hi := nth(xs, n/2)
	if n%2 == 1 {
		return hi
	}
	return (slices.Max(xs[:n/2]) + hi) / 2
}

// nth puts the k-th smallest at its place, smaller ones before it, and gives it
// (Hoare's quickselect; the pivot is the median of three, so that sorted input is cheap).
func nth(xs []float64, k int) float64 {
	lo, hi := 0, len(xs)-1
	for lo < hi {
		mid := lo + (hi-lo)/2
		if xs[mid] < xs[lo] {
			xs[mid], xs[lo] = xs[lo], xs[mid]
		}
		if xs[hi] < xs[lo] {
			xs[hi], xs[lo] = xs[lo], xs[hi]
		}
		if xs[hi] < xs[mid] {
			xs[hi], xs[mid] = xs[mid], xs[hi]
		}
		p, i, j := xs[mid], lo, hi
		for i <= j {
			for xs[i] < p {
				i++
			}
			for p < xs[j] {
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

// spread is the robust standard deviation of xs about their median; xs is reordered.
func spread(xs []float64) (centre, sd float64) {
	c := median(xs)
	dev := make([]float64, len(xs))
	for i, x := range xs {
		dev[i] = math.Abs(x - c)
	}
	return c, madScale * median(dev)
}

// quantile of sorted values, between them by straight line (type 7 of Hyndman and Fan 1996);
// NaN for none.
func quantile(sorted []float64, q float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	h := q * float64(n-1)
	i := int(math.Floor(h))
	if i >= n-1 {
		return sorted[n-1]
	}
	return sorted[i] + float64((h-float64(i))*(sorted[i+1]-sorted[i]))
}

// kaplanMeier is the q-quantile of times of which some are only known to be longer
// (censored): the product-limit estimate of Kaplan and Meier 1958. ok is false where the
// curve never comes so far. Both slices are in order of time; at equal times what happened
// comes before what was censored.
func kaplanMeier(times []float64, happened []bool, qs ...float64) (at []float64, ok []bool) {
	at, ok = make([]float64, len(qs)), make([]bool, len(qs))
	left, surviving := len(times), 1.0
	for i, t := range times {
		if happened[i] {
			surviving *= 1 - 1/float64(left)
			for k, q := range qs {
				if !ok[k] && 1-surviving >= q-1e-12 {
					at[k], ok[k] = t, true
				}
			}
		}
		left--
	}
	return at, ok
}
