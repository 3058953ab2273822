package logs

import (
	"testing"

	"twinmat/reconcile/race"
)

// Whatever the bytes: no panic, the sums hold at every moment, cutting doesn't show, and a
// file begun again with the same content gives the same.
func FuzzAppend(f *testing.F) {
	for _, e := range encodings {
		f.Add(e.of(mixedLog(20, "\r\n")), uint16(17), uint8(0))
	}
	f.Add([]byte("A1,10:00:00,1,-50\nA1,23:00:00,1,-50\nA1,00:10:00,1,-50\nA1,10:00:00,1,-50\n"), uint16(3), uint8(1))
	f.Add([]byte("EPC,FirstSeenTimestampUTC (us)\n303435fc8803d056d15b963f,1745881648793145\n"), uint16(40), uint8(2))
	f.Add([]byte("bib;time\n214;2026-10-25 02:30:00\n214;2026-10-25 02:10:00,5"), uint16(9), uint8(3))
	f.Add([]byte("\xFF\xFEa\x00\xD8"), uint16(4), uint8(0))
	f.Fuzz(func(t *testing.T, data []byte, cut uint16, how uint8) {
		c := race.Log{Path: "a.csv"}
		if how&1 != 0 {
			c.Delimiter = ";"
		}
		if how&2 != 0 {
			c.System = race.Hand
		}
		if how&4 != 0 {
			c.TimeFormat = "clock"
		}
		if how&8 != 0 {
			c.Columns = map[string]string{"tag": "1", "time": "2"}
		}
		p := planFor("Europe/Berlin", 2026, 10, 24, c)
		whole := New(p, 0)
		whole.Append(whole.File("a.csv"), data)
		whole.Finish()
		want := told(whole.Reads())
		check(t, whole.Reads())

		l := New(p, 0)
		i := l.File("a.csv")
		at := int(cut) % (len(data) + 1)
		l.Append(i, data[:at])
		check(t, l.Reads())
		for from := at; from < len(data); {
			to := min(len(data), from+1+int(how)%7)
			l.Append(i, data[from:to])
			from = to
		}
		check(t, l.Reads())
		before, sure := l.Reads().Kept, l.files[i].pending == nil
		l.Finish()
		check(t, l.Reads())
		if got := told(l.Reads()); got != want {
			t.Fatalf("cut at %d: %s", at, firstDifference(got, want))
		}
		if sure && l.Reads().Kept < before {
			t.Fatalf("%d reads, %d before the end", l.Reads().Kept, before)
		}
		kept := l.Reads().Kept
		l.Reset(i)
		check(t, l.Reads())
		l.Append(i, data)
		l.Finish()
		r := l.Reads()
		check(t, r)
		if r.Kept != kept {
			t.Fatalf("begun again: %d reads; %d before", r.Kept, kept)
		}
	})
}
