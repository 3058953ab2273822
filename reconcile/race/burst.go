package race

// Burst is the reads of one bib at one line in one system that belong together. A great race
// has a million: 80 bytes. Its moments are kept as milliseconds since the first read, which
// LongestBurst leaves room for.
type Burst struct {
	First                                 Instant
	Reads                                 []Read    // the reads themselves, on the log's own clock, shared with the store
	tags                                  *[]string // nil: one chip made it
	Source, Count                         int32     // index in Plan.Logs; reads
	Witness                               int32     // seq of the ruling that stands for it, 0: a log
	last, strongest, centre, crest, broad int32
	Peak                                  int16 // tenths of a dBm, NoRSSI: none
}

// LongestBurst is how long a burst lasts at the most, some 24 days: whoever is read without a gap
// for longer than that has begun another.
const LongestBurst Millis = 1<<31 - 1

// Last is the moment of the last read.
func (b *Burst) Last() Instant { return b.First.Add(Millis(b.last)) }

// Strongest is the moment of the strongest read, the same as First where the log gives no strengths.
func (b *Burst) Strongest() Instant { return b.First.Add(Millis(b.strongest)) }

// Crest is when the antenna was nearest, as strengths tell, and how long until they had fallen by
// 6 dB; 0: they don't tell.
func (b *Burst) Crest() (at Instant, wide Millis) {
	return b.First.Add(Millis(b.crest)), Millis(b.broad)
}

// SetLast says when it ended.
func (b *Burst) SetLast(at Instant) { b.last = b.since(at) }

// SetStrongest says when it was strongest.
func (b *Burst) SetStrongest(at Instant) { b.strongest = b.since(at) }

// SetCentre says when it was nearest, for who keeps the centre.
func (b *Burst) SetCentre(at Instant) { b.centre = b.since(at) }

// SetCrest says what strengths tell of it.
func (b *Burst) SetCrest(at Instant, wide Millis) { b.crest, b.broad = b.since(at), int32(wide) }

func (b *Burst) since(at Instant) int32 { return int32(at.Sub(b.First)) }

// Tags are the chips that made it, where the log read several of its bib.
func (b *Burst) Tags() []string {
	if b.tags == nil {
		return nil
	}
	return *b.tags
}

// SetTags says which chips made it. Copies of the burst made before stay as they are.
func (b *Burst) SetTags(tags []string) {
	if b.tags = nil; len(tags) > 0 {
		several := tags // of its own: nearly every burst has none, and allocates none
		b.tags = &several
	}
}

// Time is the burst's instant under a rule of keeping, on the log's own clock.
func (b *Burst) Time(k Keep) Instant {
	switch k {
	case KeepStrongest:
		return b.Strongest()
	case KeepLast:
		return b.Last()
	case KeepCentre:
		return b.First.Add(Millis(b.centre))
	}
	return b.First
}
