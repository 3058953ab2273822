package journal

import (
	"bytes"
	"errors"
	"reflect"
	"testing"

	"twinmat/reconcile/race"
)

// hundred is a journal of a hundred records and what it says.
func hundred(t testing.TB) ([]byte, []race.Ruling) {
	t.Helper()
	s := &session{disk: newDisk()}
	if err := s.run(func(j *Journal) {
		for range 100 {
			s.rule(j)
		}
	}); err != nil || len(s.acked) != 100 {
		t.Fatal(err, len(s.acked))
	}
	return s.disk.files[there].data, s.acked
}

// A journal cut at every length gives the longest whole beginning; the rest is put aside.
func TestCutAtEveryLength(t *testing.T) {
	b, want := hundred(t)
	step := 1
	if testing.Short() {
		step = 13
	}
	for cut := 0; cut <= len(b); cut += step {
		d := newDisk()
		d.files[there] = &node{data: bytes.Clone(b[:cut]), stable: bytes.Clone(b[:cut]), linked: true}
		j, err := open(d, there, noLock{})
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		whole := bytes.Count(b[:cut], []byte("\n"))
		tail := b[bytes.LastIndexByte(b[:cut], '\n')+1 : cut]
		if cut < len(b) && b[cut] == '\n' && len(tail) > 0 { // only the newline is missing
			whole, tail = whole+1, nil
		}
		if got := j.Rulings(); len(got) != whole || whole > 0 && !reflect.DeepEqual(got, want[:whole]) {
			t.Fatalf("cut at %d: %d rulings, want %d", cut, len(got), whole)
		}
		aside := d.files[there+".torn-1"]
		if (aside != nil) != (len(tail) > 0) || aside != nil && !bytes.Equal(aside.stable, tail) {
			t.Fatalf("cut at %d: what was torn is not kept", cut)
		}
		r := made(1)
		if err := j.Append(&r); err != nil || r.Seq != whole+1 {
			t.Fatalf("cut at %d: the next ruling is %d, %v", cut, r.Seq, err)
		}
		if s := scan(d.files[there].stable); len(s.rulings) != whole+1 || s.report.String() != "" {
			t.Fatalf("cut at %d, then one more: %d rulings, %s", cut, len(s.rulings), s.report)
		}
	}
	t.Logf("%d lengths", len(b)/step+1)
}

// Every bit of a journal of a hundred records, flipped one at a time: the rulings are the
// same or the damage is told, and no ruling is read that was never made.
func TestEveryBitFlipped(t *testing.T) {
	b, want := hundred(t)
	type result struct {
		r   race.Ruling
		err error
	}
	sound := map[string]result{} // of the lines as they were written
	for _, line := range bytes.Split(bytes.TrimSpace(b), []byte("\n")) {
		r, err := decode(line)
		sound[string(line)] = result{r, err}
	}
	var odd *foreign // the last line decoded was one
	cached := func(line []byte) (race.Ruling, error) {
		if x, ok := sound[string(line)]; ok {
			return x.r, x.err
		}
		r, err := decode(line)
		errors.As(err, &odd)
		return r, err
	}
	same, tornTail, readOnly := 0, 0, 0
	for i := range b {
		for bit := range 8 {
			b[i] ^= 1 << bit
			odd = nil
			s := scanWith(b, cached)
			b[i] ^= 1 << bit
			switch {
			case len(s.report.Damage) > 0:
				readOnly++
				if n := 1 + bytes.Count(b[:i], []byte("\n")); s.report.Damage[0].Line != n {
					t.Fatalf("byte %d, bit %d: line %d is named, want %d", i, bit, s.report.Damage[0].Line, n)
				}
			case s.report.Torn > 0:
				tornTail++
				if i < len(b)-1 {
					t.Fatalf("byte %d, bit %d: damage of a whole record taken for a torn tail", i, bit)
				}
			default:
				same++
				if len(s.rulings) != len(want) {
					t.Fatalf("byte %d, bit %d: other rulings, and nothing is told", i, bit)
				}
			}
			touched := 1 + bytes.Count(b[:i], []byte("\n")) // the other lines read as they did
			for k := range s.rulings {
				r := &s.rulings[k]
				if r.Seq < 1 || r.Seq > len(want) || r.Seq >= touched-1 && r.Seq <= touched+1 && !reflect.DeepEqual(*r, want[r.Seq-1]) {
					if len(s.report.Damage) > 0 && odd != nil {
						continue // shown, and told
					}
					t.Fatalf("byte %d, bit %d: ruling %d was never made so", i, bit, r.Seq)
				}
			}
		}
	}
	t.Logf("%d flips: %d read-only with the line named, %d a torn tail that is told, %d without effect", 8*len(b), readOnly, tornTail, same)
}
