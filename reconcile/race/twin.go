package race

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
func SameLog(a, b *Reads) (equal int, one bool) {
	equal, one, _ = sameLog(a, b)
	return equal, one
}

// sameLog tells besides whether some of the tags showed that they are two.
func sameLog(a, b *Reads) (equal int, one, bySome bool) {
	if a == nil || b == nil || min(a.Kept, b.Kept) < twinReads {
		return 0, false, false
	}
	if few := sampleOf(b); few > 1 {
		t := hold(a, b, few, writing{})
		if 2*t.all > sampledTags && 2*t.equal < t.all {
			return t.equal, false, true
		}
	}
	t := hold(a, b, 1, writingOf(b))
	return t.equal, t.telling >= twinReads && float64(t.told) >= twinShare*float64(t.telling) && float64(t.equal) >= twinShare*float64(t.all), false
}

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
	bySome bool // that they are two
}

// Look is SameLog's; where some of the tags showed that they are two, and none of those has
// new reads, without looking at the others.
func (t *Twins) Look(a, b *Reads) (equal int, one bool) {
	if t.a == a && t.b == b {
		return t.equal, t.one
	}
	if t.bySome {
		few := sampleOf(b)
		t.bySome = few == sampleOf(t.b) && sampleStays(t.a, a, few) && sampleStays(t.b, b, few)
	}
	if !t.bySome {
		t.equal, t.one, t.bySome = sameLog(a, b)
	}
	t.a, t.b = a, b
	return t.equal, t.one
}

// sampleStays tells whether the sampled tags of a log that grew have no other reads than before.
func sampleStays(before, x *Reads, few int) bool {
	n := before.Tags.Len()
	same := x.Tags.Len() >= n
	if same {
		x.Tags.Since(&before.Tags, func(i int, t *TagReads) bool {
			same = !sampled(t.Tag, few) && (i >= n || before.Tags.At(i).Tag == t.Tag)
			return same
		})
	}
	return same
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

// hold lays the reads of b, of every so many-th tag, beside a's.
func hold(a, b *Reads, few int, w writing) held {
	var h held
	asked := func(tag string) bool { return few == 1 || sampled(tag, few) }
	of := make(map[string][]Read, a.Tags.Len()/few)
	for t := range a.Tags.All() {
		if asked(t.Tag) {
			of[t.Tag] = t.Reads
		}
	}
	for t := range b.Tags.All() {
		if !asked(t.Tag) {
			continue
		}
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
