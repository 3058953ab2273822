package journal

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Damaged is a whole line that can't be read, or one of a later version. While it stands there
// nothing is written.
type Damaged struct {
	Line int // from 1
	Why  string
}

func (d *Damaged) Error() string {
	return fmt.Sprintf("%s:%d: %s; nothing is written until that line is mended or taken out by hand", File, d.Line, d.Why)
}

// Report tells what was found in rulings.jsonl beside its rulings.
type Report struct {
	Torn    int    // bytes at the end that are no whole record
	TornTo  string // the file they were put aside in, "" : not (yet)
	Damage  []Damaged
	Missing []string // numbers that are left out: "5", "7 to 9"
}

// Damaged tells whether rulings are there that can't be read: what is made without them must
// not be taken for final.
func (r Report) Damaged() bool { return len(r.Damage) > 0 }

// String tells it in words, "" when there is nothing to tell.
func (r Report) String() string {
	var says []string
	for i, d := range r.Damage {
		if i == 3 {
			says = append(says, fmt.Sprintf("%d more lines of %s can't be read", len(r.Damage)-i, File))
			break
		}
		says = append(says, fmt.Sprintf("%s:%d: %s: that ruling is left out, and nothing can be ruled until that line is mended or taken out by hand", File, d.Line, d.Why))
	}
	if r.Torn > 0 {
		s := fmt.Sprintf("the last line of %s is not whole (%d bytes) and is left out", File, r.Torn)
		if r.TornTo != "" {
			s += "; it is kept in " + r.TornTo
		}
		says = append(says, s)
	}
	if len(r.Missing) > 0 {
		says = append(says, fmt.Sprintf("%s lacks the rulings numbered %s", File, strings.Join(r.Missing, ", ")))
	}
	return strings.Join(says, "\n")
}

// scanned is a journal as it was read.
type scanned struct {
	rulings []race.Ruling
	good    int // bytes up to the end of the last whole record
	report  Report
}

var bom = []byte("\ufeff")

// scan reads all records. A line at the end that is not whole, as a crash leaves it, is the torn
// tail; others that can't be read are damage, the last one too where it has its newline: it
// was acknowledged. A whole last record that only lacks its newline counts: no part of a
// record reads as one.
func scan(b []byte) scanned { return scanWith(b, decode) }

func scanWith(b []byte, decode func([]byte) (race.Ruling, error)) scanned {
	var s scanned
	var bad []Damaged // since the last readable line
	last := 0
	for at, n := 0, 1; at < len(b); n++ {
		end, next := len(b), len(b)
		if i := bytes.IndexByte(b[at:], '\n'); i >= 0 {
			end, next = at+i, at+i+1
		}
		line := bytes.TrimSuffix(b[at:end], []byte("\r"))
		if at == 0 {
			line = bytes.TrimPrefix(line, bom)
		}
		at = next
		if len(bytes.TrimSpace(line)) == 0 {
			if len(bad) == 0 {
				s.good = next
			}
			continue
		}
		r, err := decode(line)
		var odd *foreign
		if err != nil && !errors.As(err, &odd) {
			bad = append(bad, Damaged{n, err.Error()})
			continue
		}
		s.report.Damage = append(s.report.Damage, bad...)
		bad, s.good = bad[:0], next
		if r.Seq <= last {
			s.report.Damage = append(s.report.Damage, Damaged{n, fmt.Sprintf("ruling %d comes after ruling %d", r.Seq, last)})
			continue
		}
		if odd != nil {
			s.report.Damage = append(s.report.Damage, Damaged{n, odd.why})
		}
		if r.Seq > last+1 {
			s.report.Missing = append(s.report.Missing, numbers(last+1, r.Seq-1))
		}
		last = r.Seq
		s.rulings = append(s.rulings, r)
	}
	if len(bad) > 0 && !halfWritten(b[s.good:], s.good) {
		s.report.Damage, s.good = append(s.report.Damage, bad...), len(b)
	}
	s.report.Torn = len(b) - s.good
	return s
}

func numbers(from, to int) string {
	if from == to {
		return fmt.Sprint(from)
	}
	return fmt.Sprintf("%d to %d", from, to)
}
