// Package journal keeps the rulings of a race on disk: rulings.jsonl, one JSON object a
// line, appended and never rewritten. A ruling is on disk, synced, before it is
// acknowledged; damage is met with the longest good beginning, or said and left alone.
package journal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"slices"

	"twinmat/reconcile/race"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sumMark begins the checksum that ends a record; a record written by hand has none.
const sumMark = `,"sum":"`

// encode is a ruling as a line, with the CRC-32C of what stands before the sum.
func encode(r *race.Ruling) ([]byte, error) {
	b, err := json.Marshal(r)
	if err != nil {
		return nil, err
	}
	sum := crc32.Checksum(b, castagnoli)
	b = append(b[:len(b)-1], fmt.Sprintf(`%s%08x"}`, sumMark, sum)...)
	return append(b, '\n'), nil
}

// decode reads a line without its newline. The error says what is wrong with it.
func decode(line []byte) (race.Ruling, error) {
	var r race.Ruling
	body := line
	if i := bytes.LastIndex(line, []byte(sumMark)); i >= 0 && len(line) == i+len(sumMark)+10 {
		body = append(append([]byte(nil), line[:i]...), '}')
		want := string(line[i+len(sumMark) : i+len(sumMark)+8])
		if got := fmt.Sprintf("%08x", crc32.Checksum(body, castagnoli)); got != want || string(line[len(line)-2:]) != `"}` {
			return r, fmt.Errorf("its checksum is %s, not %s: it was changed or damaged", got, want)
		}
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		return r, fmt.Errorf("it can't be read: %w", err)
	}
	if d.More() {
		return r, fmt.Errorf("more than one object stands on it")
	}
	switch {
	case r.Seq < 1:
		return r, fmt.Errorf("it has no seq")
	case !slices.Contains(race.Kinds, r.Rule):
		return r, fmt.Errorf("%q is no kind of ruling that this version knows", r.Rule)
	}
	return r, nil
}

// Report tells what was odd about a journal that could be read.
type Report struct {
	Records int
	Torn    int    // bytes at the end that are no whole record
	TornTo  string // where they were put aside, "" : nowhere (read only)
	Damage  *Damaged
}

// String says it in words, "" when nothing was odd.
func (r Report) String() string {
	switch {
	case r.Damage != nil:
		return r.Damage.Error()
	case r.Torn > 0 && r.TornTo != "":
		return fmt.Sprintf("rulings.jsonl ended in %d bytes of an unfinished record; they were put aside in %s", r.Torn, r.TornTo)
	case r.Torn > 0:
		return fmt.Sprintf("rulings.jsonl ends in %d bytes of an unfinished record, which are left out", r.Torn)
	}
	return ""
}

// Damaged is a bad record with good ones behind it: nobody may guess what it said.
type Damaged struct {
	Line int
	Why  string
}

func (d *Damaged) Error() string {
	return fmt.Sprintf("rulings.jsonl:%d: %s; nothing is ruled on top of it: mend that line by hand from a copy, or move the file away", d.Line, d.Why)
}

// parse reads a whole journal: the rulings, the length of the good beginning, and what is
// wrong after it. A bad last line is torn, as a crash leaves it; a bad line before good
// ones is damage.
func parse(data []byte) (rs []race.Ruling, good int, report Report) {
	line, at := 0, 0
	var bad *Damaged
	for at < len(data) {
		line++
		end := bytes.IndexByte(data[at:], '\n')
		if end < 0 {
			break // no newline: never acknowledged
		}
		text := bytes.TrimRight(data[at:at+end], "\r")
		next := at + end + 1
		if len(bytes.TrimSpace(text)) == 0 {
			at = next
			if bad == nil {
				good = at
			}
			continue
		}
		r, err := decode(text)
		if err == nil && len(rs) > 0 && r.Seq <= rs[len(rs)-1].Seq {
			err = fmt.Errorf("its seq %d doesn't follow %d", r.Seq, rs[len(rs)-1].Seq)
		}
		switch {
		case err != nil && bad == nil:
			bad = &Damaged{line, err.Error()}
		case err == nil && bad != nil:
			report.Damage = bad
			report.Records = len(rs)
			return rs, good, report
		case err == nil:
			rs = append(rs, r)
			good = next
		}
		at = next
	}
	// A last record that is sound JSON with a sound sum, but of a kind or with a field from
	// another version, is no torn tail: it was acknowledged once.
	if bad != nil && foreign(data[good:]) {
		report.Damage = bad
	}
	report.Records, report.Torn = len(rs), len(data)-good
	return rs, good, report
}

// foreign tells whether what stands after the good beginning is a whole record that only
// this version can't read.
func foreign(rest []byte) bool {
	end := bytes.IndexByte(rest, '\n')
	if end < 0 || len(bytes.TrimSpace(rest[end:])) > 0 {
		return false
	}
	text := bytes.TrimSpace(rest[:end])
	if i := bytes.LastIndex(text, []byte(sumMark)); i >= 0 && len(text) == i+len(sumMark)+10 {
		body := append(append([]byte(nil), text[:i]...), '}')
		if fmt.Sprintf("%08x", crc32.Checksum(body, castagnoli)) != string(text[i+len(sumMark):i+len(sumMark)+8]) {
			return false
		}
	}
	return json.Valid(text)
}
