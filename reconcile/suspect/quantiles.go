package suspect

import "math"

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
