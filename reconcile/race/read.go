package race

import (
	"cmp"
	"iter"
)

// Read is one record of a log, on that log's own clock. 16 bytes: ten million of them
// are kept in memory.
type Read struct {
	At      Instant
	Line    uint32 // number of the line in its file, from 1
	RSSI    int16  // tenths of a dBm; NoRSSI: none given
	File    uint8  // index in Reads.Files
	Antenna uint8  // index in Reads.Antennas
}

// NoRSSI marks a read whose log gives no strength.
const NoRSSI int16 = -32768

// Reads is all that one log (one [[line.log]]) holds, as read from its files.
type Reads struct {
	Source   int // index in Plan.Logs
	Files    []File
	Antennas []string // labels; index 0 is "" (none given)
	Tags     TagList
	Bad      []BadLine // the first few, in order of file and line

	// Counts: Lines = Reads + Repeated + BadLines (+ WaitingLines, at most one a file, live only).
	Lines, Repeated, BadLines, Kept int
	Waiting                         int // last lines without their newline that may still grow
}

// File is one file of a log.
type File struct {
	Path  string // as told to people: relative to the race folder
	Lines int
	Gone  int // lines once read and no longer in the file
}

// TagReads are one tag's reads in one log, in order of At, then antenna, strength, and
// place in the files; equal ones (time, antenna, strength) stand once.
type TagReads struct {
	Tag   string // canonical; for a hand log the bib as keyed
	Reads []Read
	Twice int // repeated lines left out
}

// TagHash takes some of many tags, whatever the order of their coming.
func TagHash(tag string) uint32 {
	h := uint32(2166136261) // FNV-1a
	for i := range len(tag) {
		h = (h ^ uint32(tag[i])) * 16777619
	}
	return h >> 4
}

// TagList is a log's tags, in the order in which they first came. A snapshot shares with the
// one before it the blocks in which nothing changed: a new read costs a block, not the list.
type TagList struct {
	blocks [][]TagReads // all but the last are full
	n      int
}

const tagBlock = 128

// TagsOf is a list of these.
func TagsOf(tags ...TagReads) TagList {
	var l TagList
	for len(tags) > 0 {
		n := min(len(tags), tagBlock)
		l.blocks = append(l.blocks, tags[:n:n])
		l.n += n
		tags = tags[n:]
	}
	return l
}

// Len is how many tags there are.
func (l *TagList) Len() int { return l.n }

// At is the i-th tag. It is not to be changed.
func (l *TagList) At(i int) *TagReads { return &l.blocks[i/tagBlock][i%tagBlock] }

// All are the tags in their order, not to be changed.
func (l *TagList) All() iter.Seq[*TagReads] {
	return func(yield func(*TagReads) bool) {
		for _, b := range l.blocks {
			for i := range b {
				if !yield(&b[i]) {
					return
				}
			}
		}
	}
}

// Since visits the tags that are new or have other reads than in a list before, which the
// tags of this one begin with, until f has enough. It costs the blocks that changed.
func (l *TagList) Since(before *TagList, f func(i int, t *TagReads) bool) {
	for k, b := range l.blocks {
		var old []TagReads
		if k < len(before.blocks) {
			old = before.blocks[k]
		}
		if len(old) == len(b) && (len(b) == 0 || &old[0] == &b[0]) {
			continue
		}
		for i := range b {
			if i < len(old) && b[i].Tag == old[i].Tag && sameReads(b[i].Reads, old[i].Reads) {
				continue
			}
			if !f(k*tagBlock+i, &b[i]) {
				return
			}
		}
	}
}

func sameReads(a, b []Read) bool { return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0]) }

// TagEdit is a list that is being made. Lists given out stay as they are.
type TagEdit struct {
	list  TagList
	own   []bool // by block: no list that was given out has it
	given bool   // own and the list's blocks are a list's that was given out
}

// Edit begins with the tags of a list.
func (l *TagList) Edit() TagEdit { return TagEdit{list: *l, given: true} }

// Len is how many tags there are.
func (e *TagEdit) Len() int { return e.list.n }

// Grow makes n tags of them, no fewer than there are. Each new one must be asked for by At
// before the list is given out.
func (e *TagEdit) Grow(n int) {
	e.ready()
	e.list.n = n
	for k := len(e.own); k*tagBlock < n; k++ {
		e.own, e.list.blocks = append(e.own, false), append(e.list.blocks, nil)
	}
}

// ready makes sure that the list of blocks is nobody else's.
func (e *TagEdit) ready() {
	if e.given {
		e.list.blocks = append(make([][]TagReads, 0, len(e.list.blocks)+1), e.list.blocks...)
		e.own, e.given = make([]bool, len(e.list.blocks)), false
	}
}

// At is the i-th tag, to be changed.
func (e *TagEdit) At(i int) *TagReads {
	e.ready()
	k, b := i/tagBlock, e.list.blocks[i/tagBlock]
	if n := min(tagBlock, e.list.n-k*tagBlock); !e.own[k] || len(b) < n {
		b = append(make([]TagReads, 0, n), b...)[:n]
		e.list.blocks[k], e.own[k] = b, true
	}
	return &b[i%tagBlock]
}

// Peek is the i-th tag, not to be changed; one that is new and was never asked for is empty.
func (e *TagEdit) Peek(i int) TagReads {
	if b := e.list.blocks[i/tagBlock]; i%tagBlock < len(b) {
		return b[i%tagBlock]
	}
	return TagReads{}
}

// List is the list as it is now.
func (e *TagEdit) List() TagList {
	e.given = true
	return e.list
}

// BadLine is a line that could not be read.
type BadLine struct {
	File   int // index in Reads.Files
	Line   int // from 1
	Why    string
	Text   string // the start of it, as it stands
	Column int    // byte column from 1, 0 unknown
}

// CompareReads orders reads by time, then antenna, strength and place in the files.
func CompareReads(a, b Read) int {
	return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Antenna, b.Antenna), cmp.Compare(a.RSSI, b.RSSI),
		cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
}
