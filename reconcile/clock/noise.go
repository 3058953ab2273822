package clock

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"twinmat/reconcile/robust"
)

// noise is how the spread of one crossing's difference grows with slowness: antennas have
// zones of so many metres, which a slow athlete is in for longer, and a reader's poll is a
// constant time. Of a crossing that was read a few times only, the kept read may lie anywhere.
type noise struct {
	At       float64 // seconds: standard deviation at Usual
	Usual    float64 // s/m
	Share    float64 // of the variance there that grows with u²
	Reads    float64 // that a usual burst of the log has; 0: not known
	Unknown  float64 // factor for athletes whose speed isn't known
	Quantile float64 // what of the standard deviation holds 95 %
}

// sd is the standard deviation of a crossing at slowness u, of which the log has so many reads.
func (n noise) sd(u float64, known bool, reads int) float64 {
	v := n.At * shape(u/n.Usual, n.Share) * n.thin(reads)
	if !known {
		v *= n.Unknown
	}
	return v
}

func shape(ratio, share float64) float64 {
	ratio = min(max(ratio, 0.2), 5)
	return math.Sqrt(1 - share + float64(share*ratio*ratio))
}

// The variance of a kept read grows with how far apart in time a burst's reads are, against a
// usual one's: the first of n that are anywhere in a zone is late by one in n+1 of it.
// Of 170,000 crossings of invented races by four makers the 2,150 with a quarter to a half of the
// usual reads scatter by 0.9 to 1.6 times as much, the 115 down to an eighth by 1.8 to 2.4; this tells
// 1.3 and 2.2. From six tenths of the usual on nothing is seen, and one read lies no further off than
// the zone ends.
const (
	thinShare = 0.15
	thinFrom  = 0.6
	thinLeast = 1 / 6.
)

// thin is how many times as much the kept read of a burst with so few reads scatters; reads 0:
// not known.
func (n noise) thin(reads int) float64 {
	x := max(float64(reads)/n.Reads, thinLeast)
	if reads <= 0 || n.Reads == 0 || x >= thinFrom {
		return 1
	}
	return math.Sqrt(1 + float64(thinShare*(1/float64(x*x)-1/(thinFrom*thinFrom))))
}

// usualReads are those of a usual burst, 0: no pair tells.
func (q *problem) usualReads() float64 {
	all := make([]float64, 0, len(q.pairs))
	for i := range q.pairs {
		if n := q.pairs[i].Reads; n > 0 {
			all = append(all, float64(n))
		}
	}
	if len(all) == 0 {
		return 0
	}
	return math.Round(robust.Median(all))
}

const (
	shareSteps  = 8
	shapePairs  = 700 // that tell a shape as well as more
	believed    = 0.6 // of the variance is the zone's, where the pairs don't tell
	believedFor = 12  // pairs that say as much as that belief
	studentNu   = 4   // of the likelihood that weighs shapes: outliers count little
)

// shapeNoise chooses the share of the noise that grows with slowness by the likelihood of
// Student residuals, drawn towards what is believed where pairs are few, and lays it out
// in h.
func (q *problem) shapeNoise(n *noise) {
	us := make([]float64, 0, len(q.u))
	for i, u := range q.u {
		if q.known[i] {
			us = append(us, u)
		}
	}
	n.Usual, n.Share, n.Unknown = median(append(us, q.usual...)), believed, 1
	if len(us) > 0 {
		n.Usual = robust.Median(us)
	}
	n.Usual = max(math.Round(n.Usual*1000)/1000, 0.001)
	if len(us) >= believedFor {
		best := math.Inf(1)
		for k := range shareSteps + 1 {
			share := float64(k) / shareSteps
			if l := q.shapeLikelihood(share, n.Usual); l < best {
				best, n.Share = l, share
			}
		}
		few := float64(len(us))
		n.Share = (float64(few*n.Share) + believed*believedFor) / (few + believedFor)
		n.Share = math.Round(n.Share*100) / 100
	}
	n.Reads = q.usualReads()
	for i, u := range q.u {
		q.h[i] = shape(u/n.Usual, n.Share) * n.thin(q.pairs[i].Reads)
	}
	q.unknownNoise(n)
}

// unknownNoise finds how much more those of unknown speed scatter.
func (q *problem) unknownNoise(n *noise) {
	var with, without []float64
	for i, r := range q.r {
		z := math.Abs(r) / q.h[i]
		if q.known[i] {
			with = append(with, z)
		} else {
			without = append(without, z)
		}
	}
	if len(with) < believedFor || len(without) < 2 {
		return
	}
	f := robust.Median(without) / max(robust.Median(with), 1e-9)
	few := float64(len(without))
	n.Unknown = math.Exp((few*math.Log(min(max(f, 0.3), 20)) + believedFor*math.Log(1.5)) / (few + believedFor))
	n.Unknown = math.Round(n.Unknown*100) / 100
	for i := range q.h {
		if !q.known[i] {
			q.h[i] *= n.Unknown
		}
	}
}

// shapeLikelihood is the negative log likelihood a pair, of the pairs of known speed.
func (q *problem) shapeLikelihood(share, usual float64) float64 {
	stride := 1 + len(q.r)/shapePairs // of many, some tell as much
	z, logs := make([]float64, 0, len(q.r)/stride+1), 0.0
	for i := 0; i < len(q.r); i += stride {
		if q.known[i] {
			h := shape(q.u[i]/usual, share)
			z, logs = append(z, q.r[i]/h), logs+math.Log(h)
		}
	}
	if len(z) == 0 {
		return 0
	}
	s2, n := 0.0, float64(len(z))
	for _, v := range z {
		s2 = max(s2, v*v)
	}
	s2 = max(s2, 1e-12)
	for range 12 { // the scale's maximum by reweighting
		sum := 0.0
		for _, v := range z {
			sum += (studentNu + 1) * v * v / (studentNu*s2 + float64(v*v)) * s2
		}
		s2 = max(sum/n, 1e-12)
	}
	sum := logs + n*math.Log(s2)/2
	for _, v := range z {
		sum += (studentNu + 1) / 2. * math.Log1p(float64(v*v)/(studentNu*s2))
	}
	return sum / n
}

const (
	gross       = 6.0  // standard deviations: beyond, a pair is no crossing of both
	coverage    = 0.95 // of the interval
	mostCover   = 0.965
	medianDof   = 0.5 // degrees of freedom that a pair gives to a scale found as a median,
	believedDof = 4   // and those of the belief that it is drawn to
	orderPairs  = 40  // pairs from which order statistics weigh half
)

// quantile is what times the standard deviation of a prediction holds 95 % of the
// crossings: the order statistic of the pairs' own standardised residuals, each as if it
// had been left out (split conformal prediction: Lei et al., JASA 113 (2018) 1094), drawn
// towards Student's quantile where pairs are few. Gross ones are no measure of a
// crossing's noise; but a third of them is allowed for, since fills may be such too.
func (q *problem) quantile(leverage []float64) float64 {
	z := make([]float64, 0, len(q.r))
	for i, r := range q.r {
		sd := q.s * q.h[i]
		l := min(leverage[i]/float64(sd*sd), 10)
		out := r
		if q.w[i] > 0 {
			out = r * (1 + l) // left out, its own pull on the fit is gone
		}
		out = math.Abs(out) / (sd * math.Sqrt(1+l))
		if out <= gross {
			z = append(z, out)
		}
	}
	n := float64(len(z))
	dof := medianDof*n + believedDof*max(0, 1-n/60)
	if len(z) < 3 {
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.5 + coverage/2)
	}
	stray := 1 - n/float64(len(q.r))
	want := min(mostCover, coverage/(1-stray/3))
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.5 + want/2)
	slices.SortFunc(z, cmp.Compare[float64])
	order := orderStatistic(z, (n+1)*want)
	weight := n / (n + orderPairs)
	return float64(weight*order) + (1-weight)*student
}

// orderStatistic is the k-th smallest of sorted z, k from 1, between two for a fraction.
func orderStatistic(z []float64, k float64) float64 {
	i := int(math.Floor(k))
	if i < 1 {
		return z[0]
	}
	if i >= len(z) {
		return z[len(z)-1]
	}
	return z[i-1] + float64((k-float64(i))*(z[i]-z[i-1]))
}
