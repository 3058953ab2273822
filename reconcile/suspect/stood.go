package suspect

import (
	"fmt"
	"math"
	"strings"

	"twinmat/reconcile/race"
)

const (
	// faintDB, in tenths of a dBm below a line's usual peak, is fainter than all but one in a
	// hundred come over it (measured on made races): a chip at the edge of the antenna's field.
	faintDB = 80
	// thinReads is how often a second an antenna reads who crosses, at the least: five reads in
	// some three seconds; fewReads are too few to tell.
	thinReads = 1.5
	// stoodLong, in time, is longer than anybody needs for an antenna's five metres.
	stoodLong = 10 * 1000 * race.Millis(1)
)

var noPeaks = [2]int16{race.NoRSSI, race.NoRSSI}

// thin tells whether each system that saw a passing read too seldom for one who crosses.
func thin(p *race.Passing) bool {
	read := false
	for s := race.Main; s <= race.Backup; s++ {
		if !seenBy(p, s) {
			continue
		}
		b := p.Bursts[s]
		if read = true; b.Count > fewReads && float64(b.Count) > thinReads*b.Last().Sub(b.First).Seconds() {
			return false
		}
	}
	return read
}

// stoodNear finds the splits of a result at which nobody was read who crosses: each system heard
// them from the edge of its field alone, now and then, and for longer than a crossing or again
// and again afterwards. So is somebody read who stands beside the line; they were over it before,
// when no system read them, and their time is too late by nobody knows how much.
func (f *field) stoodNear(i int, add func(race.Suspect)) (splits []int) {
	r := f.st.Results[i]
	for k := range f.both[i] {
		x := &f.both[i][k]
		if !x.thin || x.ruled || r.Splits[k].At == 0 || r.Splits[k].Lap > 0 || !f.faint(r, k, x) {
			continue
		}
		p := &r.Passings[r.Filled[k]]
		if until := stoodUntil(r, p); until.Sub(p.At) > stoodLong && (x.by[race.Backup] || f.earlierTwin(r, k, p) == nil) {
			splits = append(splits, k)
			add(f.stood(r, k, p, x, until))
		}
	}
	return splits
}

// faint tells whether each system that saw a split heard them well below its usual peak there.
func (f *field) faint(r *race.Result, k int, x *compared) bool {
	l := r.Splits[k].Line
	for s, peak := range x.peaks {
		usual := f.agreement.peaks[s][l]
		if x.by[s] && (peak == race.NoRSSI || math.IsNaN(usual) || float64(peak) > usual-faintDB) {
			return false
		}
	}
	return true
}

// stoodUntil is until when somebody was read at the line of a passing, that or others that fill
// nothing.
func stoodUntil(r *race.Result, p *race.Passing) race.Instant {
	until := p.At
	take := func(x *race.Passing) {
		for s := race.Main; s <= race.Backup; s++ {
			if seenBy(x, s) {
				until = max(until, x.At.Add(x.Bursts[s].Last().Sub(x.Bursts[s].First)))
			}
		}
	}
	take(p)
	for n := range r.Passings {
		if x := &r.Passings[n]; x.Line == p.Line && x.Split < 0 && x.Fate != race.Voided && x.At > p.At && x.At.Sub(p.At) < strayReach && !between(r, p.Line, p.At, x.At) {
			take(x)
		}
	}
	return until
}

func (f *field) stood(r *race.Result, k int, p *race.Passing, x *compared, until race.Instant) race.Suspect {
	sp := &r.Splits[k]
	s := f.clashWith(r, k, p)
	var heard []string
	for y, peak := range x.peaks {
		if x.by[y] {
			heard = append(heard, fmt.Sprintf("%s's strongest read has %.0f dBm where %.0f are usual", race.System(y), float64(peak)/10, f.agreement.peaks[y][p.Line]/10))
		}
	}
	s.Says = fmt.Sprintf("Nobody was read who crosses: %s was heard at %s now and then from %s to %s, and faintly (%s). They may have stood there, having crossed before.",
		r.Bib, sp.ID, f.clock(p.At), f.clock(until), strings.Join(heard, ", "))
	s.Proposes = accept(s.ID)
	s.Others = []string{voidPassing(r.Bib, f.line(p.Line), f.when(p.At))}
	s.Evidence = "stood " + mark(p)
	return s
}
