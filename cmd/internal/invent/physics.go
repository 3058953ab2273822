package invent

import (
	"math"
	"math/rand/v2"
	"slices"
)

// chipSort is how a sort of chip and reader behave.
type chipSort struct {
	reach  float64 // metres either side of the antenna that a chip may answer from
	poll   float64 // seconds between two answers of a chip that is alone
	share  float64 // seconds that each chip in the zone adds to that
	peak   float64 // dBm over the antenna
	noise  float64 // dB
	jitter float64 // seconds; over 0: an active chip, one read a passing, so exact
	early  bool    // antennas are as good as the sort allows: a body costs little
}

var (
	passive = chipSort{reach: 2.3, poll: .068, share: .004, peak: -46, noise: 1.8}
	sparse  = chipSort{reach: 2.2, poll: .15, share: .0008, peak: -46, noise: 1.8} // few reads a burst, for great fields
	fine    = chipSort{reach: 2.0, poll: .017, share: .0006, peak: -44, noise: 1.2, early: true}
	active  = chipSort{reach: 1.5, jitter: .0009, peak: -40, noise: 1}
)

const (
	halfWidth = 1.0 // metres from the antenna at which strength has fallen by 6 dB
	faintest  = -67 // dBm that is read every other time
)

// visitSort is what brings a chip near a line.
type visitSort uint8

const (
	crossing visitSort = iota
	staying            // hangs about at the edge of the zone until `until`
	glancing           // heard faintly from a line beside
)

// visit is one time that a body, or a stray chip, is near a line.
type visit struct {
	at, until int64
	body      int32 // index of people, -1: a stray
	stray     int32 // index of strays when body is -1
	split     int16 // index of the marks of the course run, -1: fills none
	sort      visitSort
	lane      uint8
	dir       int8
	lost      [2]uint8 // per system the chips (bit per worn chip) that it misses
	crowd     uint16   // chips in the zone
	note      uint8    // index of notes
	serial    uint32   // place in the race: seeds its chance
	speed     float32
	loss      float32 // dB that the body costs
}

// notes are what truth/passings.csv says of a passing.
var notes = []string{"", "warm-up over the start", "the start, from the grid", "after the time limit", "main missed the finish, but reads the chip afterwards"}

const (
	noNote = iota
	noteWarm
	noteGrid
	noteLate
	noteAfterwards
)

// reading is one read before a clock stamps it.
type reading struct {
	at      int64 // race clock, microseconds
	antenna uint8
	rssi    int8
}

// dice are reseeded for each burst: a burst depends on nothing but its visit.
type dice struct {
	src *rand.PCG
	*rand.Rand
}

func newDice() *dice {
	src := rand.NewPCG(0, 0)
	return &dice{src, rand.New(src)}
}

// mix spreads a number over all bits (the finisher of the SplitMix64 generator).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// burst appends the reads that a system's antenna would take of one of a visit's chips, in
// order of time, at least one for a crossing, whether the system truly read it or not.
func (r *Race) burst(d *dice, v *visit, behind float64, system, worn int, buf []reading) []reading {
	d.src.Seed(mix(r.Seed+uint64(v.serial)), mix(uint64(v.serial)<<8|uint64(system)<<4|uint64(worn)))
	switch v.sort {
	case staying:
		return r.stay(d, v, buf)
	case glancing:
		return r.glance(d, v, buf)
	}
	k := &r.chips
	speed := float64(v.speed)
	centre := v.at
	if system != mainSystem && behind != 0 {
		own := max(.35, speed*bell(d.Rand, 1, .05))
		centre += micros(behind * float64(v.dir) / own)
	}
	loss := float64(v.loss) + bell(d.Rand, 0, 2.4)
	if k.jitter > 0 {
		return append(buf, reading{centre + micros(bell(d.Rand, 0, k.jitter)), v.lane, int8(k.peak - loss)})
	}
	reach := k.reach * bell(d.Rand, .94, .08)
	rear := 3 * d.Float64() // a body between chip and antenna once past it
	if k.early {
		rear *= .4
	}
	step := max(k.poll, k.share*float64(v.crowd))
	from := len(buf)
	t := -reach/speed + step*d.Float64()
	for ; t < reach/speed; t += step * (.55 + .9*d.Float64()) {
		x := t * speed
		level := k.strength(x) - loss + d.NormFloat64()*k.noise
		if x > 0 {
			level -= rear
		}
		if d.Float64()*(1+math.Exp((faintest-level)/1.6)) < 1 {
			buf = append(buf, r.heard(d, v, centre+micros(t), level))
		}
	}
	if len(buf) == from {
		buf = append(buf, r.heard(d, v, centre+micros(bell(d.Rand, 0, .2)/speed), k.peak-loss))
	}
	return buf
}

// strength is what a chip so many metres from the antenna answers with, in dBm.
func (k *chipSort) strength(x float64) float64 {
	x /= halfWidth
	return k.peak - 20*math.Log10(1+x*x)
}

func (r *Race) heard(d *dice, v *visit, at int64, level float64) reading {
	lane := int(v.lane)
	if u := d.Float64(); u < .2 {
		lane++
	} else if u < .4 {
		lane--
	}
	return reading{at, uint8(min(8, max(1, lane))), int8(math.Round(min(-40, max(-78, level))))}
}

// stay gives the reads of someone who stands about: now nearer, now farther, mostly faint.
func (r *Race) stay(d *dice, v *visit, buf []reading) []reading {
	where := 2.0
	for t := v.at; t < v.until; {
		gap := .15 + 1.6*d.ExpFloat64()
		t += micros(gap)
		where += .25*(2-where) + .3*d.NormFloat64()
		level := r.chips.strength(max(1.2, where)) + 3*d.NormFloat64() - 4
		if t < v.until && d.Float64()*(1+math.Exp((faintest-3-level)/2)) < 1 {
			buf = append(buf, r.heard(d, v, t, level))
		}
	}
	return buf
}

// glance gives the few faint reads of a line beside.
func (r *Race) glance(d *dice, v *visit, buf []reading) []reading {
	t := v.at
	for range 2 + d.IntN(5) {
		buf = append(buf, r.heard(d, v, t, -70+1.5*d.NormFloat64()))
		t += micros(.06 + .1*d.Float64())
	}
	return buf
}

// lengthOf is how long before and after its moment a visit's reads may lie.
func (r *Race) lengthOf(v *visit) (before, after int64) {
	if v.sort != crossing {
		return second, v.until - v.at + 2*second
	}
	zone := micros((r.chips.reach*1.2+4)/max(.35, float64(v.speed)*.8)) + second/2
	return zone, zone
}

// gather counts, at every line, the chips that share the air, and gives each visit its chance.
func (r *Race) gather() {
	serial := uint32(0)
	for l := range r.visits {
		vs := r.visits[l]
		slices.SortStableFunc(vs, compareVisits)
		lo, hi := 0, 0
		for i := range vs {
			v := &vs[i]
			half := micros(r.chips.reach / max(.5, float64(v.speed)))
			for vs[lo].at < v.at-half {
				lo++
			}
			for hi < len(vs) && vs[hi].at <= v.at+half {
				hi++
			}
			v.crowd = uint16(min(400, (hi-lo)*max(1, r.perBib)))
			v.serial = serial
			serial++
		}
	}
}

func compareVisits(a, b visit) int {
	switch {
	case a.at != b.at:
		if a.at < b.at {
			return -1
		}
		return 1
	case a.body != b.body:
		return int(a.body) - int(b.body)
	}
	return int(a.split) - int(b.split)
}

// shield draws which systems miss which of a body's chips: some passings are hidden from
// every system, some people's chips are hidden more often, the rest is each system's own.
func (r *Race) shield(g *rand.Rand, v *visit, p *person) {
	all := uint8(1<<max(1, len(p.worn)) - 1)
	v.loss = float32(max(-1, bell(g, 2, 2)))
	if g.Float64() < r.rates.Shielded {
		v.lost = [2]uint8{all, all}
		return
	}
	for s := range v.lost {
		if g.Float64() < min(.6, r.rates.Missed*p.hidden) {
			v.lost[s] = all
			if len(p.worn) > 1 {
				v.lost[s] = uint8(1 << g.IntN(len(p.worn)))
				if g.Float64() < .3 {
					v.lost[s] = all
				}
			}
		}
	}
}
