package journal

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"twinmat/reconcile/race"
)

func some(n int) []race.Ruling {
	var out []race.Ruling
	for i := 1; i <= n; i++ {
		out = append(out, race.Ruling{Made: "2026-05-17T10:00:00.000+01:00", Who: "op", Rule: race.SetStatus, Bib: fmt.Sprint(i), Status: "dnf", Why: `says "so", ünïcode`})
	}
	return out
}

func filled(t testing.TB, n int) (string, []race.Ruling) {
	t.Helper()
	dir := t.TempDir()
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	rs := some(n)
	for i := range rs {
		if err := j.Append(&rs[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, rs
}

func TestWhatIsAppendedIsReadBack(t *testing.T) {
	dir, want := filled(t, 20)
	got, report, err := Read(dir)
	if err != nil || report.String() != "" || !reflect.DeepEqual(got, want) {
		t.Fatalf("%v %v %v", got, report, err)
	}
	info, err := os.Stat(journalPath(dir))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("mode %v, %v", info.Mode(), err)
	}
}

func TestOnlyOneWrites(t *testing.T) {
	dir := t.TempDir()
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir); !errors.Is(err, ErrLocked) {
		t.Fatalf("a second writer got %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	k, err := Open(dir)
	if err != nil {
		t.Fatalf("after the first one went: %v", err)
	}
	k.Close()
}

// A journal cut at every length gives the longest whole beginning, and nothing is lost: the
// rest is put aside.
func TestCutAtEveryLength(t *testing.T) {
	dir, want := filled(t, 12)
	data, err := os.ReadFile(journalPath(dir))
	if err != nil {
		t.Fatal(err)
	}
	for cut := 0; cut <= len(data); cut++ {
		whole := bytes.Count(data[:cut], []byte("\n"))
		d := filepath.Join(t.TempDir(), "r")
		os.Mkdir(d, 0o755)
		if err := os.WriteFile(journalPath(d), data[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		j, err := Open(d)
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		if got := j.Rulings(); len(got) != whole || whole > 0 && !reflect.DeepEqual(got, want[:whole]) {
			t.Fatalf("cut at %d: %d rulings, want %d", cut, len(got), whole)
		}
		x := some(1)[0]
		if err := j.Append(&x); err != nil {
			t.Fatal(err)
		}
		j.Close()
		after, report, err := Read(d)
		if err != nil || report.String() != "" || len(after) != whole+1 {
			t.Fatalf("cut at %d, then one more: %d rulings, %v, %v", cut, len(after), report, err)
		}
		if torn := data[bytes.LastIndexByte(data[:cut], '\n')+1 : cut]; len(torn) > 0 {
			aside, err := os.ReadFile(journalPath(d) + ".torn-1")
			if err != nil || !bytes.Equal(aside, torn) {
				t.Fatalf("cut at %d: what was torn is not kept: %q, %v", cut, aside, err)
			}
		}
	}
}

// Every bit of two dozen records flipped, one at a time: the rulings are the same, or the
// damage is told. Never a different set in silence.
func TestEveryBitFlipped(t *testing.T) {
	dir, want := filled(t, 24)
	data, err := os.ReadFile(journalPath(dir))
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for i := range data {
		for bit := range 8 {
			data[i] ^= 1 << bit
			rs, _, report := parse(data)
			if report.String() == "" && !reflect.DeepEqual(rs, want) {
				t.Fatalf("byte %d, bit %d: another set of rulings, and nothing was said", i, bit)
			}
			if report.String() != "" {
				told++
			}
			if len(rs) > len(want) || len(rs) > 0 && !reflect.DeepEqual(rs, want[:len(rs)]) {
				t.Fatalf("byte %d, bit %d: rulings that were never made", i, bit)
			}
			data[i] ^= 1 << bit
		}
	}
	t.Logf("%d flips, %d told", 8*len(data), told)
}

func TestAKindOfAnotherVersionIsNeverDropped(t *testing.T) {
	dir, _ := filled(t, 2)
	f, err := os.OpenFile(journalPath(dir), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintln(f, `{"seq":3,"at":"","by":"op","rule":"neutralise-lap","bib":"3","why":"crash"}`)
	f.Close()
	var d *Damaged
	if _, err := Open(dir); !errors.As(err, &d) || d.Line != 3 {
		t.Fatalf("opened for writing over an unknown kind: %v", err)
	}
	rs, report, err := Read(dir)
	if err != nil || len(rs) != 2 || report.Damage == nil {
		t.Fatalf("%v %v %v", rs, report, err)
	}
}

// failing is a disk that fails the nth call, once or from then on.
type failing struct {
	realDisk
	n       int
	forever bool
	how     error
	calls   int
}

var errInjected = errors.New("injected I/O error")

func (d *failing) fails() bool {
	d.calls++
	return d.calls == d.n || d.forever && d.calls > d.n
}

func (d *failing) OpenAppend(path string) (file, error) {
	if d.fails() {
		return nil, d.how
	}
	f, err := d.realDisk.OpenAppend(path)
	return &failingFile{f, d}, err
}

func (d *failing) SyncDir(dir string) error {
	if d.fails() {
		return d.how
	}
	return d.realDisk.SyncDir(dir)
}

type failingFile struct {
	file
	d *failing
}

func (f *failingFile) Write(b []byte) (int, error) {
	if f.d.fails() {
		n, _ := f.file.Write(b[:len(b)/2]) // a full disk takes a part
		return n, f.d.how
	}
	return f.file.Write(b)
}

func (f *failingFile) Sync() error {
	if f.d.fails() {
		return f.d.how
	}
	return f.file.Sync()
}

func (f *failingFile) Truncate(n int64) error {
	if f.d.fails() {
		return f.d.how
	}
	return f.file.Truncate(n)
}

// The crash matrix: the nth call to the disk fails, for n = 1 until a run passes untouched,
// once and for ever. What was acknowledged is there after a restart, and nothing else is
// but, at most, one ruling whose sync failed.
func TestEveryCallFails(t *testing.T) {
	runs := 0
	for _, forever := range []bool{false, true} {
		for n := 1; ; n++ {
			dir := t.TempDir()
			d := &failing{n: n, forever: forever, how: errInjected}
			var acked []race.Ruling
			if j, err := open(dir, d); err == nil {
				for _, r := range some(6) {
					if err := j.Append(&r); err == nil {
						acked = append(acked, r)
					}
				}
				j.Close()
			}
			runs++
			k, err := Open(dir)
			if err != nil {
				t.Fatalf("call %d failed (for ever: %v): the restart says %v", n, forever, err)
			}
			got := k.Rulings()
			k.Close()
			if len(got) < len(acked) || len(acked) > 0 && !reflect.DeepEqual(got[:len(acked)], acked) || len(got) > len(acked)+1 {
				t.Fatalf("call %d failed (for ever: %v): %d acknowledged, %d there", n, forever, len(acked), len(got))
			}
			if d.calls < n {
				break
			}
		}
	}
	t.Logf("%d runs", runs)
}

func TestACopyCanTakeOver(t *testing.T) {
	dir, want := filled(t, 5)
	j, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	stick := t.TempDir()
	if err := j.CopyTo(stick); err != nil {
		t.Fatal(err)
	}
	k, err := Open(stick)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Close()
	if !reflect.DeepEqual(k.Rulings(), want) {
		t.Fatalf("the copy tells %v", k.Rulings())
	}
}

func FuzzParse(f *testing.F) {
	line, _ := encode(&race.Ruling{Seq: 1, Rule: race.Undo, UndoneSeq: 1, Why: "x"})
	f.Add(line)
	f.Add([]byte("{}\n"))
	f.Add([]byte(`{"seq":1,"rule":"accept","suspect":"clash:1:a","why":"ok"}` + "\n" + `{"seq":`))
	f.Fuzz(func(t *testing.T, data []byte) {
		rs, good, _ := parse(data)
		if good > len(data) || good < 0 {
			t.Fatalf("good %d of %d", good, len(data))
		}
		again, _, _ := parse(data[:good])
		if len(again) != len(rs) {
			t.Fatalf("the good beginning tells %d rulings, the whole %d", len(again), len(rs))
		}
	})
}
