package replay

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

// tables are the exports of a folder, without its rulings: those are not replayed.
func tables(t *testing.T, dir string) string {
	t.Helper()
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	f.Rulings = nil
	st := reconcile.Compute(f.Input())
	var b bytes.Buffer
	for _, x := range export.Files {
		fmt.Fprintf(&b, "== %s\n", x.Name)
		if err := x.Write(&b, st, export.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

func all(speed float64) Options {
	return Options{Speed: speed, From: race.NoInstant, To: race.NoInstant}
}

func paced(speed float64, sleep func(context.Context, time.Duration) error) Options {
	o := all(speed)
	o.Sleep = sleep
	return o
}

func invented(t *testing.T, kind string, seed uint64) string {
	t.Helper()
	m, err := invent.Make(invent.Options{Kind: kind, Seed: seed, Athletes: 40})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := m.Write(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

func logFiles(t *testing.T, dir string) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, "logs", "*"))
	if err != nil || len(found) == 0 {
		t.Fatal(found, err)
	}
	return found
}

func sameReplayed(t *testing.T, dir string, o Options) {
	t.Helper()
	into := t.TempDir()
	if err := Into(context.Background(), dir, into, o); err != nil {
		t.Fatal(err)
	}
	if a, b := tables(t, dir), tables(t, into); a != b {
		x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
		for i := range min(len(x), len(y)) {
			if x[i] != y[i] {
				t.Fatalf("line %d\nof old   %s\nreplayed %s", i, x[i], y[i])
			}
		}
		t.Fatalf("%d lines of old, %d replayed", len(x), len(y))
	}
	for _, p := range logFiles(t, dir) {
		a, _ := os.ReadFile(p)
		b, err := os.ReadFile(filepath.Join(into, "logs", filepath.Base(p)))
		if err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs: %v", filepath.Base(p), err)
		}
	}
}

// Replayed at once, and at a pace, a race is the same race, byte for byte of every log.
func TestReplayedRaceIsTheSame(t *testing.T) {
	for _, kind := range []string{"demo", "laps", "day", "triathlon"} {
		t.Run(kind, func(t *testing.T) { sameReplayed(t, invented(t, kind, 5), all(0)) })
	}
	slept := time.Duration(0)
	sameReplayed(t, invented(t, "demo", 6), paced(60, func(_ context.Context, d time.Duration) error {
		slept += d
		return nil
	}))
	if slept < 10*time.Second {
		t.Errorf("a race of more than ten minutes at 60 took %v", slept)
	}
}

// Logs in UTF-16, with CRLF, and ending in half a line.
func TestReplayedInOtherClothes(t *testing.T) {
	for name, dress := range map[string]func([]byte) []byte{
		"CRLF":     func(b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")) },
		"UTF-16LE": func(b []byte) []byte { return wide(b, binary.LittleEndian) },
		"UTF-16BE": func(b []byte) []byte { return wide(b, binary.BigEndian) },
		"half":     func(b []byte) []byte { return b[:len(b)-9] },
	} {
		t.Run(name, func(t *testing.T) {
			dir := invented(t, "demo", 7)
			before := tables(t, dir)
			for _, p := range logFiles(t, dir) {
				b, err := os.ReadFile(p)
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(p, dress(b), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if name != "half" && tables(t, dir) != before {
				t.Error("in other clothes it is another race")
			}
			sameReplayed(t, dir, paced(1000, func(context.Context, time.Duration) error { return nil }))
		})
	}
}

func wide(b []byte, order binary.AppendByteOrder) []byte {
	out := order.AppendUint16(nil, 0xfeff)
	for _, u := range utf16.Encode([]rune(string(b))) {
		out = order.AppendUint16(out, u)
	}
	return out
}

// What a log lost and only the kept folder holds is replayed as well.
func TestReplayedFromKept(t *testing.T) {
	dir := invented(t, "demo", 8)
	before := tables(t, dir)
	for i, p := range logFiles(t, dir) {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		kept := filepath.Join(dir, "kept", "logs")
		if err := os.MkdirAll(kept, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(kept, filepath.Base(p)+".g1"), b, 0o600); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			err = os.Remove(p)
		} else {
			err = os.Truncate(p, int64(len(b)/2))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	into := t.TempDir()
	if err := Into(context.Background(), dir, into, all(0)); err != nil {
		t.Fatal(err)
	}
	got := tables(t, into)
	for _, name := range []string{"times.csv", "splits.csv"} {
		if section(got, name) != section(before, name) {
			t.Errorf("%s differs", name)
		}
	}
}

func section(all, name string) string {
	_, rest, _ := strings.Cut(all, "== "+name+"\n")
	s, _, _ := strings.Cut(rest, "== ")
	return s
}

// From: what came before is there at once. To: what came after stays out.
func TestFromAndTo(t *testing.T) {
	dir := invented(t, "demo", 9)
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	first, last := race.NoInstant, race.NoInstant
	for _, r := range f.Reads {
		for tag := range r.Tags.All() {
			for _, x := range tag.Reads {
				if !first.Known() || x.At < first {
					first = x.At
				}
				last = max(last, x.At)
			}
		}
	}
	middle := first + (last-first)/2
	for _, o := range []Options{{To: middle, From: race.NoInstant}, {From: middle, To: race.NoInstant, Speed: 3600}} {
		slept := time.Duration(0)
		o.Sleep = func(_ context.Context, d time.Duration) error { slept += d; return nil }
		into := t.TempDir()
		if err := Into(context.Background(), dir, into, o); err != nil {
			t.Fatal(err)
		}
		g, err := ingest.Read(into)
		if err != nil {
			t.Fatal(err)
		}
		lines, whole := 0, 0
		for s := range g.Reads {
			lines, whole = lines+g.Reads[s].Lines, whole+f.Reads[s].Lines
		}
		if o.To.Known() {
			if lines == 0 || lines >= whole {
				t.Errorf("up to the middle: %d of %d lines", lines, whole)
			}
			offsets := map[int]float64{}
			for _, c := range st.Clocks {
				offsets[c.Source] = c.Offset
			}
			for s, r := range g.Reads {
				for tag := range r.Tags.All() {
					for _, x := range tag.Reads {
						if x.At > middle.Add(race.Millis(1000*offsets[s])+5000) {
							t.Fatalf("a read of source %d, %d ms after the end", s, x.At-middle)
						}
					}
				}
			}
			continue
		}
		if lines != whole {
			t.Errorf("from the middle: %d of %d lines", lines, whole)
		}
		if want := time.Duration(last-middle) * time.Millisecond / 3600; slept < want/2 || slept > 3*want+time.Second {
			t.Errorf("from the middle at 3600 it took %v; wanted about %v", slept, want)
		}
	}
}

// A list names people: its copy is no more open than it is.
func TestAListsCopyIsAsClosedAsTheList(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("files have no such modes here")
	}
	from, to := invented(t, "demo", 3), filepath.Join(t.TempDir(), "copy")
	closed := map[string]os.FileMode{"athletes.csv": 0o600, "chips.csv": 0o440, "race.toml": 0o644}
	for n, mode := range closed {
		if err := os.Chmod(filepath.Join(from, n), mode); err != nil {
			t.Fatal(err)
		}
	}
	if err := Into(context.Background(), from, to, all(0)); err != nil {
		t.Fatal(err)
	}
	for n, mode := range closed {
		info, err := os.Stat(filepath.Join(to, n))
		if err != nil {
			t.Fatal(err)
		}
		if more := info.Mode().Perm() &^ (mode | 0o200); more != 0 {
			t.Errorf("the copy of %s is %v, the list %v", n, info.Mode().Perm(), mode)
		}
	}
}
