package race

// Burst is the reads of one bib at one line in one system that belong together. A great race
// has a million: 64 bytes. Its moments are kept as milliseconds since the first read, which
// LongestBurst leaves room for.
type Burst struct {
	First                                 Instant
	several                               *several // nil: one chip made it
	Source, Count                         int32    // index in Plan.Logs; reads
	Witness                               int32    // seq of the ruling that stands for it, 0: a log
	at, from                              int32    // where its reads stand, of one chip: at which of the log's tags, from which of its reads
	last, strongest, centre, crest, broad int32
	Peak                                  int16 // tenths of a dBm, NoRSSI: none
}

// several are the chips that made a burst, where the log read several of its bib, and the reads of all.
type several struct {
	tags  []string
	reads []Read
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
	if b.several == nil {
		return nil
	}
	return b.several.tags
}

// Chip is at which of its log's tags the chip stands that made it alone; -1 where the log read several
// of its bib, or none.
func (b *Burst) Chip() int32 {
	if b.several != nil || b.Source < 0 {
		return -1
	}
	return b.at
}

// SetReads says where its reads stand: at which of its log's tags, from which of the tag's reads.
func (b *Burst) SetReads(tag, from int32) { b.at, b.from, b.several = tag, from, nil }

// SetSeveral says which chips made it, and with which reads. Copies of the burst made before stay as
// they are.
func (b *Burst) SetSeveral(tags []string, reads []Read) { b.several = &several{tags, reads} }

// Reads are the reads themselves, on the log's own clock, of the log as it is in the same state; it
// is nil for who was seen by eye. They are shared with the store.
func (b *Burst) Reads(log *Reads) []Read {
	switch {
	case b.several != nil:
		return b.several.reads
	case log == nil || b.Source < 0 || int(b.at) >= log.Tags.Len():
		return nil
	}
	reads := log.Tags.At(int(b.at)).Reads
	from := min(int(b.from), len(reads))
	to := from
	for to < len(reads) && reads[to].At <= b.Last() {
		to++
	}
	return reads[from:to:to]
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
