package race

import "iter"

const (
	// twinShare of a log's reads stand in the other where the two are one: a copy may end a
	// little sooner.
	twinShare = 0.95
	// twinReads so many that tell agree by no chance.
	twinReads = 8
	// usual is the share of reads that makes a unit, or one strength, a log's own way of writing.
	usual = 0.9
	// sampledTags are about so many as show that two logs are two, or sampledFew with so many
	// reads: who laps for hours is read often.
	sampledTags  = 500
	sampledFew   = 20
	sampledReads = 10_000
)

// coarsely are the units of time, in ms, in which two clocks a few hundredths of a second apart
// agree by chance, the longest first.
var coarsely = [...]Instant{1000, 500, 250, 200, 125, 100, 50}

// SameLog tells how many reads of b stand in a too, and whether b is a's log again: nearly all
// its reads do, to the millisecond. In a log of whole seconds or tenths two clocks agree by
// chance: there only reads that are finer tell, and those that agree in antenna and
// strength too.
func SameLog(a, b *Reads) (equal int, one bool) { return new(Twins).Look(a, b) }

// sampleOf is every how many-th tag of a log is in its sample.
func sampleOf(x *Reads) int {
	return max(x.Tags.Len()/sampledTags, min(x.Tags.Len()/sampledFew, x.Kept/sampledReads))
}

// sampled tells whether a tag is in a sample: which ones are must not rest on the order of
// their coming.
func sampled(tag string, few int) bool { return int(TagHash(tag))%few == 0 }

// Twins holds two logs that grow against each other, again and again. The zero Twins is ready.
type Twins struct {
	a, b   *Reads
	equal  int
	one    bool
	bySome bool   // some of the tags showed that they are two
	some   held   // how those stand
	in     sample // those of a
	inB    sample // and of b
}

// Known tells whether two logs are those that were looked at last.
func (t *Twins) Known(a, b *Reads) bool { return t.a == a && t.b == b }

// Look is SameLog's; where some of the tags show that they are two, only those of them that have new
// reads are looked at again.
func (t *Twins) Look(a, b *Reads) (equal int, one bool) {
	if a == nil || b == nil || min(a.Kept, b.Kept) < twinReads {
		*t = Twins{}
		return 0, false
	}
	if t.Known(a, b) {
		return t.equal, t.one
	}
	t.a, t.b = a, b
	if few := sampleOf(b); few > 1 {
		if moreA, moreB := t.in.take(a, few), t.inB.take(b, few); moreA || moreB {
			t.some = hold(a, b, t.in.tags, t.inB.tags, writing{})
		}
		if t.bySome = 2*t.some.all > sampledTags && 2*t.some.equal < t.some.all; t.bySome {
			t.equal, t.one = t.some.equal, false
			return t.equal, t.one
		}
	}
	t.bySome = false
	h := hold(a, b, a.Tags.All(), b.Tags.All(), writingOf(b))
	t.equal = h.equal
	t.one = h.telling >= twinReads && float64(h.told) >= twinShare*float64(h.telling) && float64(h.equal) >= twinShare*float64(h.all)
	return t.equal, t.one
}

// sample are where the sampled tags of a log that grows stand among its tags.
type sample struct {
	few int
	of  *Reads
	at  []int
}

// take makes it that of a log, and tells whether it is another, or has other reads.
func (s *sample) take(x *Reads, few int) (another bool) {
	if s.of == x && s.few == few {
		return false
	}
	if s.few == few && s.of.Tags.Len() <= x.Tags.Len() {
		n, grown := s.of.Tags.Len(), true
		x.Tags.Since(&s.of.Tags, func(i int, t *TagReads) bool {
			switch is := sampled(t.Tag, few); {
			case i < n && s.of.Tags.At(i).Tag != t.Tag:
				grown = false
			case is && i >= n:
				s.at, another = append(s.at, i), true
			default:
				another = another || is
			}
			return grown
		})
		if s.of = x; grown {
			return another
		}
	}
	*s = sample{few: few, of: x}
	i := 0
	for t := range x.Tags.All() {
		if sampled(t.Tag, few) {
			s.at = append(s.at, i)
		}
		i++
	}
	return true
}

// tags visits them.
func (s *sample) tags(yield func(*TagReads) bool) {
	for _, i := range s.at {
		if !yield(s.of.Tags.At(i)) {
			return
		}
	}
}

// writing is how a log writes what it reads.
type writing struct {
	unit  Instant // its times are whole ones of this, but for phase; 0: fine
	phase Instant
	rssi  int16 // the one strength that nearly all reads have, else NoRSSI
}

// writingOf looks at all reads of a log.
func writingOf(x *Reads) writing {
	var past [1000]int // reads by what they are past the whole second
	strengths := map[int16]int{}
	for t := range x.Tags.All() {
		for _, r := range t.Reads {
			past[(r.At%1000+1000)%1000]++
			strengths[r.RSSI]++
		}
	}
	w := writing{rssi: NoRSSI}
	enough := int(usual * float64(x.Kept))
	for s, n := range strengths {
		if n > enough {
			w.rssi = s
		}
	}
	for _, unit := range coarsely {
		var at [1000]int
		for ms, n := range past {
			at[ms%int(unit)] += n
		}
		for phase, n := range at[:unit] {
			if n > enough {
				w.unit, w.phase = unit, Instant(phase)
				return w
			}
		}
	}
	return w
}

// fine tells whether a read's time alone can tell one clock from another.
func (w writing) fine(r *Read) bool { return w.unit == 0 || (r.At%w.unit+w.unit)%w.unit != w.phase }

// strong tells whether a read's strength is its own.
func (w writing) strong(r *Read) bool { return r.RSSI != NoRSSI && r.RSSI != w.rssi }

// held is how the reads of one log stand to another's.
type held struct {
	all, equal    int // reads, and those that the other has at the same millisecond
	telling, told int // reads in which chance can't agree, and those that do
}

// hold lays the reads of some of b's tags beside those of a's.
func hold(a, b *Reads, ofA, ofB iter.Seq[*TagReads], w writing) held {
	var h held
	of := make(map[string][]Read)
	for t := range ofA {
		of[t.Tag] = t.Reads
	}
	for t := range ofB {
		theirs := of[t.Tag]
		for i := range t.Reads {
			r := &t.Reads[i]
			for len(theirs) > 0 && theirs[0].At < r.At {
				theirs = theirs[1:]
			}
			there := len(theirs) > 0 && theirs[0].At == r.At
			h.all++
			if there {
				h.equal++
			}
			switch {
			case w.fine(r):
				h.telling++
				if there {
					h.told++
				}
			case w.strong(r):
				h.telling++
				if alike(a, theirs, b, r) {
					h.told++
				}
			}
		}
	}
	return h
}

// alike tells whether one of a's reads at the moment of r, the first of theirs, has its antenna
// and strength.
func alike(a *Reads, theirs []Read, b *Reads, r *Read) bool {
	for i := range theirs {
		x := &theirs[i]
		if x.At != r.At {
			return false
		}
		if x.RSSI == r.RSSI && a.Antennas[x.Antenna] == b.Antennas[r.Antenna] {
			return true
		}
	}
	return false
}
