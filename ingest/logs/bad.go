package logs

import (
	"bytes"

	"twinmat/reconcile/race"
)

// maxBad is how many bad lines of a file, and of a log, are kept with their text.
const maxBad = 1000

// badLines are the bad lines of one file: all counted, the first kept.
type badLines struct {
	n    int
	kept []race.BadLine
}

func (l *Log) badLine(f *file, number uint32, line []byte, x fault) {
	f.bad.n++
	l.dirty = true
	if len(f.bad.kept) >= maxBad {
		return
	}
	f.bad.kept = append(f.bad.kept, race.BadLine{
		File: int(f.index), Line: int(number), Why: x.says(), Column: columnOf(line, x.at),
		Text: toUTF8(bytes.Clone(line[:min(len(line), maxQuote)])),
	})
}

// columnOf is the byte column, from 1, at which part stands in line; 0 if it isn't a part
// of it (a cell whose quotes were taken off may be a copy).
func columnOf(line, part []byte) int {
	if cap(part) == 0 || cap(part) > cap(line) {
		return 0
	}
	at := cap(line) - cap(part)
	if at+len(part) > len(line) || &line[:at+1][at] != &part[:1][0] { // an empty part has a place too
		return 0
	}
	return at + 1
}

// union is the bad lines of a file over the contents that it had: each line as often as
// in the one that had it most. gone is how many the present content lacks.
func union(old, now badLines) (all badLines, gone int) {
	if old.n == 0 {
		return now, 0
	}
	have := make(map[string]int, len(now.kept))
	for i := range now.kept {
		have[now.kept[i].Text]++
	}
	all = badLines{n: max(now.n-len(now.kept), old.n-len(old.kept)) + len(now.kept), kept: now.kept[:len(now.kept):len(now.kept)]}
	for _, b := range old.kept {
		if have[b.Text] > 0 {
			have[b.Text]--
			continue
		}
		all.n++
		if len(all.kept) < maxBad {
			all.kept = append(all.kept, b)
		}
	}
	return all, all.n - now.n
}
