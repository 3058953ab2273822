package logs

import (
	"bytes"
	"fmt"

	"twinmat/reconcile/race"
)

// A file without a header shows its layout by its first lines: so many that have a time
// in them, or so many in all, decide.
const (
	enoughTimed   = 16
	enoughLines   = 200
	enoughPending = 256 << 10 // bytes
)

// line takes a line. final: it has no newline, and nothing follows.
func (l *Log) line(f *file, line []byte, final bool) {
	if f.lines.long {
		l.badLine(f, f.lines.number, line, fault{why: fmt.Sprintf("is longer than %d bytes", maxLine)})
		return
	}
	for bytes.HasPrefix(line, byteOrderMark) {
		line = line[len(byteOrderMark):]
	}
	if len(line) == 0 || line[0] == ' ' && blank(line) {
		return
	}
	if f.over {
		l.badLine(f, f.lines.number, line, fault{why: "is of a file past the 255 that a log may have"})
		return
	}
	if f.lay == nil || f.pending != nil {
		l.undecided(f, line, final)
		return
	}
	l.read(f, f.lay, f.lines.number, line, final)
}

// read takes a line by a layout: a read, a new header or a bad line.
func (l *Log) read(f *file, lay *layout, number uint32, line []byte, final bool) {
	var p parsed
	if l.parse(lay, line, final, &p) {
		at, why := l.resolve(f, &p)
		if why == "" {
			l.store.add(p.tag, race.Read{At: race.Instant(at), Line: number, RSSI: p.rssi, File: f.index, Antenna: p.antenna})
			return
		}
		l.fault = fault{why, "time", p.time, p.time}
	} else if next := l.wish.header(line, &l.stamp); next != nil {
		f.headers++
		f.lay = next
		return
	}
	l.badLine(f, number, line, l.fault)
}

// undecided takes a line of a file whose layout isn't certain yet.
func (l *Log) undecided(f *file, line []byte, final bool) {
	if lay := l.wish.header(line, &l.stamp); lay != nil {
		l.settle(f)
		f.lay = lay
		f.headers++
		return
	}
	if f.pending == nil {
		f.before = f.bad
	}
	f.open = final
	f.pending = append(f.pending, bytes.Clone(line))
	f.numbers = append(f.numbers, f.lines.number)
	f.weight += len(line)
	for _, d := range []byte(l.wish.delims()) {
		if len(line) <= 4096 && anyTime(splitLine(line, d), &l.stamp) {
			f.timed++
			break
		}
	}
	if final || f.timed >= enoughTimed || len(f.pending) >= enoughLines || f.weight >= enoughPending {
		l.settle(f)
	}
}

// settle fixes the layout by the lines so far and is done with waiting for more. Without
// a time in any of them they are bad lines, and the search goes on.
func (l *Log) settle(f *file) {
	if f.pending == nil {
		return
	}
	l.tryLayout(f)
	f.pending, f.numbers = nil, nil
	f.weight, f.timed, f.tentably = 0, 0, 0
}

// tryLayout reads the pending lines by the layout that they show so far. Lines read
// earlier by another layout are taken back first.
func (l *Log) tryLayout(f *file) {
	if f.pending == nil {
		return
	}
	lay, skip := l.wish.byContent(f.pending, &l.stamp)
	if f.tentably > 0 && !sameLayout(lay, f.lay) {
		l.forget(f)
		f.tentably = 0
	}
	if f.tentably == 0 || f.lay == nil {
		f.lay = lay
	}
	for i := f.tentably; i < len(f.pending); i++ {
		last := f.open && i == len(f.pending)-1
		switch {
		case lay == nil:
			l.badLine(f, f.numbers[i], f.pending[i], l.noLayout())
		case i >= skip || i < skip-1:
			l.read(f, f.lay, f.numbers[i], f.pending[i], last)
		default:
			f.headers++
		}
	}
	f.tentably = len(f.pending)
}

// forget takes back what the pending lines gave under a layout that has turned out wrong.
func (l *Log) forget(f *file) {
	l.store.remove(f.index)
	f.bad = f.before
	f.bad.kept = f.bad.kept[:len(f.bad.kept):len(f.bad.kept)]
	f.headers = 0
	f.chain = chain{latest: farPast}
	f.clocks = 0
	l.placed.forget(f.index)
	for k := range l.folded {
		if k.file == f.index {
			delete(l.folded, k)
		}
	}
}

func (l *Log) noLayout() fault {
	if len(l.wish.columns) > 0 {
		return fault{why: "no header with the columns that the plan names has come"}
	}
	return fault{why: "no header has come, and no column holds a time"}
}
