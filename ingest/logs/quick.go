package logs

import (
	"bytes"

	"twinmat/reconcile/race"
)

// maxQuick is the longest line that quick takes.
const maxQuick = 127

// nowhere is past the end of every line that quick takes.
const nowhere = 255

// shape is where the cells of lines of one length are, as the last such line had them.
type shape struct {
	ok                               bool
	tagFrom, tagTo, timeFrom, timeTo uint8
	antFrom, rssiFrom                uint8 // the antenna is one byte long, the strength three; nowhere: no such column
	skipFrom, skipTo                 uint8 // one column that doesn't matter; empty: none
	delims                           uint8
	at                               [6]uint8 // where delimiters are
}

// learn notes the shape of a line that has been read, if lines like it can be read
// quickly: up to the last column that matters all but one are used, and none is quoted.
func (lay *layout) learn(line []byte) {
	if len(line) > maxQuick {
		return
	}
	sh := shape{antFrom: nowhere, rssiFrom: nowhere}
	at := 0
	for i, r := range lay.role {
		to := at + bytes.IndexByte(line[at:], lay.delim)
		if to < at {
			if to = len(line); i+1 < len(lay.role) {
				return
			}
		}
		if !sh.place(r, at, to) {
			return
		}
		if to < len(line) {
			if int(sh.delims) == len(sh.at) {
				return
			}
			sh.at[sh.delims] = uint8(to)
			sh.delims++
		}
		at = to + 1
	}
	sh.ok = true
	lay.shapes[len(line)] = sh
}

// place notes a cell; false if quick can't take such a one.
func (sh *shape) place(r role, from, to int) bool {
	switch r {
	case roleTag:
		sh.tagFrom, sh.tagTo = uint8(from), uint8(to)
	case roleTime:
		sh.timeFrom, sh.timeTo = uint8(from), uint8(to)
	case roleAntenna:
		sh.antFrom = uint8(from)
		return to-from == 1
	case roleRSSI:
		sh.rssiFrom = uint8(from)
		return to-from == 3
	default:
		if sh.skipTo > 0 {
			return false
		}
		sh.skipFrom, sh.skipTo = uint8(from), uint8(to)
	}
	return true
}

// quick takes a line whose cells are where the last line of its length had them, with a
// tag spelled as before, on the date before. It takes only lines that read would take in
// the same way: delimiters stand at their places, and no cell can hold another, since
// known spellings hold none (marks), and what follows is told byte by byte. On false
// nothing has been done.
func (l *Log) quick(f *file, line []byte) bool {
	lay := f.lay
	if len(line) > maxQuick || lay == nil || f.pending != nil {
		return false
	}
	sh := &lay.shapes[len(line)]
	if !sh.ok || l.tags.marks {
		return false
	}
	for _, at := range sh.at[:sh.delims] {
		if line[at] != lay.delim {
			return false
		}
	}
	p := parsed{rssi: race.NoRSSI}
	if at := sh.antFrom; at != nowhere {
		if p.antenna = l.ants.single[line[at]]; p.antenna == 0 || !isDigit(line[at]) {
			return false
		}
	}
	if at := sh.rssiFrom; at != nowhere {
		tens, ones := line[at+1]-'0', line[at+2]-'0'
		if line[at] != '-' || tens > 9 || ones > 9 {
			return false
		}
		p.rssi = -100*int16(tens) - 10*int16(ones)
	}
	if skip := line[sh.skipFrom:sh.skipTo]; len(skip) > 0 {
		if skip[0] == '"' || skip[0] == ' ' || bytes.IndexByte(skip, lay.delim) >= 0 {
			return false
		}
	}
	time := line[sh.timeFrom:sh.timeTo]
	switch {
	case len(time) == 16 && (l.stamp.want == formAny || l.stamp.want == formUnixUS):
		var ok bool
		if p.ms, ok = micros(time); !ok {
			return false
		}
		p.kind, l.stamp.form = instant, formUnixUS
	case len(time) >= 23 && l.stamp.want <= formDatetime && [10]byte(time[:10]) == l.stamp.date && time[19] != lay.delim:
		if p.kind, p.ms = l.stamp.again(time); p.kind == notTime {
			return false
		}
	default:
		return false
	}
	var ok bool
	if p.tag, ok = l.tags.again(line[sh.tagFrom:sh.tagTo]); !ok {
		return false
	}
	at, why := l.resolve(f, &p)
	if why != "" {
		return false
	}
	lay.timeLen = len(time)
	l.store.add(p.tag, race.Read{At: race.Instant(at), Line: f.lines.number, RSSI: p.rssi, File: f.index, Antenna: p.antenna})
	return true
}
