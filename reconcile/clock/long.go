package clock

import (
	"math"

	"twinmat/reconcile/robust"
)

// lengths says what this log's burst tells of the crossing besides its kept read.
//
// One that began early by chance, or ended late, is longer than the athlete's speed makes
// usual; its middle, of the strengths where there are any, tells the crossing too, from
// other reads than the one that is kept. And nobody crosses a line at exactly the pace of
// the stretch: the longer and the wider the strengths lie, the slower. The kept time is off
// by a share of each; the pairs find the shares.
//
// Where nothing else tells the speed (at a start, in a change zone) the length does, with
// an error, and too long a burst is early besides: what it is worth is found apart from
// what the antennas' distance costs a usual athlete there, which is exact.
type lengths struct {
	perU  float64 // metres: a burst's usual length over slowness, of speeds told otherwise; 0: not known
	perM  float64 // metres: main's burst's usual length over slowness, likewise
	perW  float64 // a burst's usual length over the width of its strengths; 0: not known
	mid   float64 // its usual middle, share of its length
	on    [tells]bool
	share [tells]float64 // of seconds; of slowness in metres
}

// What bursts tell: length beyond the usual, middle, what the width of strengths says beyond
// the length; and, where nothing else does, slowness, and again what the width says.
const (
	tellsLength = iota
	tellsMiddle
	tellsWidth
	tellsSlowness
	tellsWidthAlone
	tells
)

const (
	longMost = 8.0  // seconds: who stood there tells nothing
	longFew  = 20   // pairs that tell what is usual
	longSlow = 1.4  // times as long as usual in the mean of both logs, and in each of them
	longEach = 1.15 // so many times, is no chance: they walked over the line
)

// worths are what is believed of the shares, of antennas a step or two apart, as many
// invented lines of several kinds had them: fields of forty learn little by themselves.
var worths = [tells]struct{ mean, sd float64 }{tellsLength: {.15, .3}, tellsMiddle: {-.6, .3}, tellsWidth: {.3, .25}, tellsSlowness: {.5, 1.5}, tellsWidthAlone: {.25, .3}}

// columns is how many coefficients bursts have.
func (l *lengths) columns() int {
	n := 0
	for _, on := range l.on {
		if on {
			n++
		}
	}
	return n
}

// laid is a crossing as the model takes it: its slowness as far as it is known; the slowness
// that the antennas' distance is to cost; what its burst tells.
func (l *lengths) laid(x Crossing, usual float64) (u, cost float64, told [tells]float64) {
	long := x.Long > 0 && x.Long <= longMost
	if long && x.tellsMid() {
		told[tellsMiddle] = x.Mid - float64(l.mid*x.Long)
	}
	wide := 0.0
	if long && x.Wide > 0 && l.perW > 0 {
		wide = min(max(float64(l.perW*x.Wide)-x.Long, -x.Long), x.Long)
	}
	switch {
	case x.ByBurst:
		u = x.U
		if long && l.perU > 0 {
			u = x.Long / l.perU
		}
		told[tellsSlowness], told[tellsWidthAlone] = min(max(u-usual, -usual), usual), wide
		return u, usual, told
	case long && l.perU > 0:
		mean := float64(l.perU * x.U)
		told[tellsLength], told[tellsWidth] = min(max(x.Long-mean, -mean), 2*mean), wide
	}
	return x.U, x.U, told
}

// walked is a crossing by who went over the line far more slowly than over the stretch before it, as
// the bursts of both logs tell: a drink in hand, or at the end of their strength.
func (l *lengths) walked(x Crossing) (Crossing, bool) {
	if x.ByBurst || !(l.perU > 0 && l.perM > 0 && x.Long <= longMost && x.Beside <= longMost) {
		return x, false
	}
	a, b := x.Long/l.perU, x.Beside/l.perM
	if !(math.Min(a, b) > longEach*x.U && a+b > 2*longSlow*x.U) {
		return x, false
	}
	x.U = (a + b) / 2
	return x, true
}

// tellsMid tells whether the middle is known, and lies in the burst.
func (x *Crossing) tellsMid() bool {
	return (x.Mid != 0 || x.Wide > 0) && math.Abs(x.Mid) <= x.Long/2
}

// times is by how much what was told moves the kept time, in seconds.
func (l *lengths) times(told [tells]float64) float64 {
	sum := 0.0
	for j, on := range l.on {
		if on {
			sum += float64(l.share[j] * told[j])
		}
	}
	return sum
}

// usualLength finds perU, and what the pairs' bursts can tell.
func (q *problem) usualLength() {
	var per, perM, perW, mids []float64
	alone, wideAlone := 0, 0
	for i := range q.pairs {
		p := &q.pairs[i]
		if math.IsNaN(p.U) || !(p.Long > 0) || p.Long > longMost {
			continue
		}
		if x := p.Crossing(); x.tellsMid() {
			mids = append(mids, p.Mid/p.Long)
		}
		if p.ByBurst {
			alone++
		} else {
			per = append(per, p.Long/p.U)
			if p.Beside > 0 && p.Beside <= longMost {
				perM = append(perM, p.Beside/p.U)
			}
		}
		if p.Wide > 0 {
			perW = append(perW, p.Long/p.Wide)
			if p.ByBurst {
				wideAlone++
			}
		}
	}
	q.long = lengths{}
	if q.c.Hand {
		return
	}
	if len(per) >= longFew {
		q.long.perU = math.Round(robust.Median(per)*10) / 10
	}
	if len(perM) >= longFew {
		q.long.perM = math.Round(robust.Median(perM)*10) / 10
	}
	if 2*len(perW) > len(per)+alone && len(perW) >= longFew {
		q.long.perW = math.Round(robust.Median(perW)*10) / 10
	}
	if len(mids) > 0 {
		q.long.mid = math.Round(robust.Median(mids)*100) / 100
	}
	wide := q.long.perW > 0
	q.long.on = [tells]bool{
		tellsLength:     q.long.perU > 0,
		tellsMiddle:     2*len(mids) > len(per)+alone && len(mids) >= longFew,
		tellsWidth:      wide && q.long.perU > 0 && len(perW)-wideAlone >= longFew,
		tellsSlowness:   alone > 0,
		tellsWidthAlone: wide && wideAlone >= longFew,
	}
}
