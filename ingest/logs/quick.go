package logs

import "twinmat/reconcile/race"

// maxQuick is the longest line that quick takes.
const maxQuick = 127

// nowhere is past the end of every line that quick takes.
const nowhere = 255

// shape is where the cells of lines of one length are, as the last such line had them.
type shape struct {
	ok                               bool
	tagFrom, tagTo, timeFrom, timeTo uint8
	antFrom, rssiFrom                uint8 // the antenna is one byte long, the strength three; nowhere: no such column
	delims                           uint8
	at                               [6]uint8 // where delimiters are
}

// learn notes the shape of a line that has been read, if lines like it can be read quickly:
// all columns up to the last that matters are used, none is quoted.
func (lay *layout) learn(line []byte, c *cells) {
	if len(line) > maxQuick || c.columns != len(lay.role) {
		return
	}
	sh := shape{antFrom: nowhere, rssiFrom: nowhere}
	at := 0
	for i, r := range lay.role {
		cell := c.get(r)
		from := columnOf(line, cell) - 1
		if cell == nil || from != at {
			return
		}
		switch to := from + len(cell); r {
		case roleTag:
			sh.tagFrom, sh.tagTo = uint8(from), uint8(to)
		case roleTime:
			sh.timeFrom, sh.timeTo = uint8(from), uint8(to)
		case roleAntenna:
			if len(cell) != 1 {
				return
			}
			sh.antFrom = uint8(from)
		case roleRSSI:
			if len(cell) != 3 {
				return
			}
			sh.rssiFrom = uint8(from)
		default:
			return
		}
		if at += len(cell); at < len(line) {
			if int(sh.delims) == len(sh.at) || line[at] != lay.delim {
				return
			}
			sh.at[sh.delims] = uint8(at)
			sh.delims++
		} else if i+1 < len(lay.role) {
			return
		}
		at++
	}
	sh.ok = true
	lay.shapes[len(line)] = sh
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
	time := line[sh.timeFrom:sh.timeTo]
	if len(time) < 23 || [10]byte(time[:10]) != l.stamp.date || l.stamp.want > formDatetime || time[19] != '.' {
		return false
	}
	if p.kind, p.ms = l.stamp.again(time); p.kind == notTime {
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
