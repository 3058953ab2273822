package clock

import (
	"math"
	"slices"
)

const (
	// madScale makes a median absolute deviation a standard deviation for normal noise:
	// 1/Φ⁻¹(3/4), as R's stats::mad.
	madScale = 1.482602218505602

	// tukeyC is 95 % efficient at the normal: Holland and Welsch, Communications in
	// Statistics A6 (1977) 813.
	tukeyC = 4.685

	// huberK is 95 % efficient at the normal, likewise.
	huberK = 1.345
)

// Median of xs, the mean of the middle two of an even number; NaN for none.
func Median(xs []float64) float64 { return medianOf(slices.Clone(xs)) }

// medianOf is Median, but reorders xs.
func medianOf(xs []float64) float64 {
	n := len(xs)
	if n == 0 {
		return math.NaN()
	}
	hi := nth(xs, n/2)
	if n%2 == 1 {
		return hi
	}
	return slices.Max(xs[:n/2])/2 + hi/2
}

// MAD is the median absolute deviation from the median, scaled to be a standard deviation
// for normal noise (Hampel, JASA 69 (1974) 383).
func MAD(xs []float64) float64 {
	ys := slices.Clone(xs)
	m := medianOf(ys)
	for i, x := range xs {
		ys[i] = math.Abs(x - m)
	}
	return madScale * medianOf(ys)
}

// nth puts the k-th smallest at its place, smaller ones before it and greater ones behind,
// and gives it (Hoare, CACM 4 (1961) 321).
func nth(xs []float64, k int) float64 {
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

// Line is y = Intercept + Slope·x.
type Line struct{ Intercept, Slope float64 }

// TheilSen is the median of the slopes of all pairs of points with different x, and the
// median of what it leaves as intercept (Sen, JASA 63 (1968) 1379). Slope NaN when all x
// are equal. It breaks down at 29 % of wrong points; O(n²).
func TheilSen(x, y []float64) Line {
	s := slopes(x, y)
	if len(s) == 0 {
		return Line{Median(y), math.NaN()}
	}
	return through(x, y, medianOf(s))
}

// TheilSenInterval is Sen's interval for the slope: that many of the sorted slopes on
// either side of the middle as Kendall's τ allows at the two-sided normal quantile z.
func TheilSenInterval(x, y []float64, z float64) (lo, hi float64) {
	s := slopes(x, y)
	slices.Sort(s)
	n := float64(len(x))
	variance := n * (n - 1) * (2*n + 5) / 18
	for _, ties := range [][]float64{x, y} {
		for _, k := range tieSizes(ties) {
			variance -= k * (k - 1) * (2*k + 5) / 18
		}
	}
	reach := z * math.Sqrt(variance)
	m := float64(len(s))
	up := min(int(math.Round((m-reach)/2)), len(s)-1)
	down := max(int(math.Round((m+reach)/2))-1, 0)
	return s[max(up-1, 0)], s[min(down+1, len(s)-1)]
}

func tieSizes(xs []float64) (sizes []float64) {
	s := slices.Sorted(slices.Values(xs))
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		if j-i > 1 {
			sizes = append(sizes, float64(j-i))
		}
		i = j
	}
	return sizes
}

func slopes(x, y []float64) (s []float64) {
	for i := range x {
		for j := range i {
			if x[i] != x[j] {
				s = append(s, (y[i]-y[j])/(x[i]-x[j]))
			}
		}
	}
	return s
}

// RepeatedMedian is the median over the points of the median of each one's slopes to all
// others (Siegel, Biometrika 69 (1982) 242). It breaks down only at half of wrong points;
// O(n²). Slope NaN when all x are equal.
func RepeatedMedian(x, y []float64) Line {
	var outer, inner []float64
	for i := range x {
		inner = inner[:0]
		for j := range x {
			if x[i] != x[j] {
				inner = append(inner, (y[i]-y[j])/(x[i]-x[j]))
			}
		}
		if len(inner) > 0 {
			outer = append(outer, medianOf(inner))
		}
	}
	if len(outer) == 0 {
		return Line{Median(y), math.NaN()}
	}
	return through(x, y, medianOf(outer))
}

// through gives a slope the intercept that the median of what it leaves has.
func through(x, y []float64, slope float64) Line {
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - float64(slope*x[i])
	}
	return Line{medianOf(rest), slope}
}

// HuberWeight is 1 up to k standard deviations, then falls as k/|z| (Huber, Annals of
// Mathematical Statistics 35 (1964) 73).
func HuberWeight(z float64) float64 {
	if a := math.Abs(z); a > huberK {
		return huberK / a
	}
	return 1
}

// TukeyWeight is the biweight, (1−(z/c)²)² inside c standard deviations, 0 outside:
// what is far off counts for nothing (Beaton and Tukey, Technometrics 16 (1974) 147).
func TukeyWeight(z float64) float64 {
	v := z / tukeyC
	v = 1 - float64(v*v)
	if !(v > 0) {
		return 0
	}
	return v * v
}

// tukeyLoss is twice the biweight's ρ: z² near 0, c²/3 beyond c.
func tukeyLoss(z float64) float64 {
	v := z / tukeyC
	v = 1 - float64(v*v)
	if !(v > 0) {
		return tukeyC * tukeyC / 3
	}
	return tukeyC * tukeyC / 3 * (1 - float64(v*v*v))
}
