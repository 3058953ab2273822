package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/robust"
)

const (
	// madScale is robust.PerMAD to all digits: what is fitted with it is published.
	madScale = 1.482602218505602

	// tukeyC is 95 % efficient at the normal: Holland and Welsch, Communications in
	// Statistics A6 (1977) 813.
	tukeyC = 4.685
)

// median is robust.Median of what must stay in order.
func median(xs []float64) float64 { return robust.Median(slices.Clone(xs)) }

// mad is the median absolute deviation from the median, scaled to be a standard deviation
// for normal noise (Hampel, JASA 69 (1974) 383).
func mad(xs []float64) float64 {
	ys := slices.Clone(xs)
	m := robust.Median(ys)
	for i, x := range ys {
		ys[i] = math.Abs(x - m)
	}
	return madScale * robust.Median(ys)
}

// line is y = intercept + slope·x.
type line struct{ intercept, slope float64 }

// theilSen is the median of the slopes of all pairs of points with different x, and the
// median of what it leaves as intercept (Sen, JASA 63 (1968) 1379). The slope is NaN when all x
// are equal. It breaks down at 29 % of wrong points; O(n²).
func theilSen(x, y []float64) line {
	s := slopes(x, y)
	if len(s) == 0 {
		return line{median(y), math.NaN()}
	}
	return through(x, y, robust.Median(s))
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

// through gives a slope the intercept that the median of what it leaves has.
func through(x, y []float64, slope float64) line {
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - float64(slope*x[i])
	}
	return line{robust.Median(rest), slope}
}

// tukeyWeight is the biweight, (1−(z/c)²)² inside c standard deviations, 0 outside:
// what is far off counts for nothing (Beaton and Tukey, Technometrics 16 (1974) 147).
func tukeyWeight(z float64) float64 {
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
