package logs

import (
	"time"

	"twinmat/reconcile/race"
)

// maxFiles is how many files a log may have: a read holds its file's number in a byte.
const maxFiles = 255

// Log takes the bytes of one [[line.log]]'s files as they come and knows all its reads.
// It is not safe for use from several goroutines; the snapshots that Reads gives are.
type Log struct {
	source int
	plan   *race.Plan
	wish   wish
	zone   zoneTable // of times that carry none
	home   zoneTable // the race's

	files  []*file
	byPath map[string]int
	rank   []int // by file: its place in the order of paths

	stamp  stamper
	tags   *tagTable
	joined []byte // scratch, see joinFraction
	fault  fault  // why the last line is a bad one
	ants   antennas
	placed placed           // times of day: the day they were given
	folded map[folded]int64 // times in an hour that comes twice: the instant

	store store
	given *race.Reads // the last snapshot, nil: none
	dirty bool        // something but reads has changed since
}

// file is one file of a log.
type file struct {
	path  string
	index uint8
	dec   decoder
	lines lines
	chain chain
	take  func(text []byte)
	final bool
	over  bool // it stands for all files past maxFiles

	lay      *layout
	pending  [][]byte // lines before the layout is certain
	numbers  []uint32 // theirs
	weight   int      // bytes in pending
	timed    int      // lines in pending that have a time in them
	tentably int      // lines of pending already read by a layout that isn't certain yet
	open     bool     // the last of pending has no newline
	before   badLines // bad as it was before pending

	clocks             int   // lines that told only a time of day
	firstDay           int64 // wall midnight that the first of them was given
	firstTime          int64 // its time of day
	clockFrom, clockTo int64 // wall times of the earliest and the latest

	bad     badLines
	old     badLines // of the contents before it was begun again
	headers int
}

// New is an empty log: Plan.Logs[source] of the plan. p isn't changed.
func New(p *race.Plan, source int) *Log {
	l := &Log{source: source, plan: p, byPath: make(map[string]int), ants: newAntennas()}
	l.stamp.nearDay = noDay
	l.zone.loc, l.home.loc = time.UTC, time.UTC
	if p != nil {
		if p.Zone != nil {
			l.zone.loc, l.home.loc = p.Zone, p.Zone
		}
		if source >= 0 && source < len(p.Logs) {
			l.configure(&p.Logs[source])
		}
		if date, gun := l.raceDay(); gun != farPast || !p.Date.IsZero() {
			l.stamp.nearDay = date / dayMS
		}
	}
	l.tags = &tagTable{bibs: l.wish.hand}
	return l
}

func (l *Log) configure(c *race.Log) {
	if c.Zone != nil {
		l.zone.loc = c.Zone
	}
	l.wish = wish{columns: c.Columns, form: formOf(c.TimeFormat), hand: c.System == race.Hand}
	switch c.Delimiter {
	case "":
	case `\t`, "tab":
		l.wish.delim = '\t'
	default:
		l.wish.delim = c.Delimiter[0]
	}
	l.stamp.want = l.wish.form
}

// File is the index of a file of this log, in order of first mention. A log has at most
// 255 files; all others together are one more, whose lines are bad ones.
func (l *Log) File(path string) int {
	if i, ok := l.byPath[path]; ok {
		return i
	}
	i := min(len(l.files), maxFiles)
	l.byPath[path] = i
	if i < len(l.files) {
		return i
	}
	f := &file{path: path, index: uint8(i), over: i == maxFiles, chain: chain{latest: farPast}}
	f.dec.odd = -1
	f.take = func(text []byte) { l.cut(f, text) }
	l.files = append(l.files, f)
	l.rankFiles()
	l.dirty = true
	return i
}

// rankFiles orders the files by path: what depends on an order of files may not depend on
// which came first.
func (l *Log) rankFiles() {
	l.rank = append(l.rank, 0)
	for i, f := range l.files {
		n := 0
		for _, g := range l.files {
			if g.path < f.path {
				n++
			}
		}
		l.rank[i] = n
	}
	l.store.rank = l.rank
}

// Append takes more bytes of a file, cut anywhere.
func (l *Log) Append(file int, data []byte) {
	if len(data) == 0 {
		return
	}
	f := l.files[file]
	l.dirty = true
	f.dec.feed(data, false, f.take)
}

// Finish says that nothing follows in any file: a last line without newline is a read if
// it is complete, else a bad line.
func (l *Log) Finish() {
	for _, f := range l.files {
		if f.final {
			continue
		}
		f.final = true
		l.dirty = true
		f.dec.feed(nil, true, f.take)
		if len(f.lines.carry) > 0 || f.lines.long {
			l.end(f, f.lines.carry, true)
		}
		l.settle(f)
	}
}
