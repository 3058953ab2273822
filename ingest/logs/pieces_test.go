package logs

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"twinmat/reconcile/race"
)

// told is a snapshot as text, the same for the same reads whatever order files, tags and
// antennas first came in.
func told(r *race.Reads) string {
	var rows []string
	for t := range r.Tags.All() {
		for _, x := range t.Reads {
			rows = append(rows, fmt.Sprintf("%s %d %q %d %s:%d", t.Tag, x.At, r.Antennas[x.Antenna], x.RSSI, r.Files[x.File].Path, x.Line))
		}
		rows = append(rows, fmt.Sprintf("%s twice %d", t.Tag, t.Twice))
	}
	slices.Sort(rows)
	for _, b := range r.Bad {
		rows = append(rows, fmt.Sprintf("bad %s:%d:%d %q %q", r.Files[b.File].Path, b.Line, b.Column, b.Why, b.Text))
	}
	files := slices.Clone(r.Files)
	slices.SortFunc(files, func(a, b race.File) int { return strings.Compare(a.Path, b.Path) })
	rows = append(rows, fmt.Sprintf("%v lines %d kept %d repeated %d bad %d waiting %d", files, r.Lines, r.Kept, r.Repeated, r.BadLines, r.Waiting))
	return strings.Join(rows, "\n")
}

// alike tells whether two snapshots are the same in every field. It is told without the
// text, for tests that compare very many.
func alike(a, b *race.Reads) bool {
	return a.Lines == b.Lines && a.Repeated == b.Repeated && a.BadLines == b.BadLines && a.Kept == b.Kept && a.Waiting == b.Waiting &&
		slices.Equal(a.Files, b.Files) && slices.Equal(a.Antennas, b.Antennas) && slices.Equal(a.Bad, b.Bad) &&
		slices.EqualFunc(slices.Collect(a.Tags.All()), slices.Collect(b.Tags.All()), func(x, y *race.TagReads) bool {
			return x.Tag == y.Tag && x.Twice == y.Twice && slices.Equal(x.Reads, y.Reads)
		})
}

// firstDifference is the first line in which two texts differ.
func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range max(len(x), len(y)) {
		switch {
		case i >= len(x):
			return fmt.Sprintf("only the second has %q", y[i])
		case i >= len(y):
			return fmt.Sprintf("only the first has %q", x[i])
		case x[i] != y[i]:
			return fmt.Sprintf("%q and %q", x[i], y[i])
		}
	}
	return ""
}

// mixedLog is a log with a bit of everything: about n lines.
func mixedLog(n int, ends string) string {
	rng := rand.New(rand.NewPCG(7, 7))
	var b strings.Builder
	b.WriteString("tag,time,antenna,rssi,reader" + ends)
	at := time.Date(2026, 5, 17, 9, 0, 0, 0, time.UTC)
	var before string
	for i := range n {
		at = at.Add(time.Duration(rng.IntN(400)) * time.Millisecond)
		tag := fmt.Sprintf("3008AB%06d", rng.IntN(12))
		when := at.Format("2006-01-02T15:04:05.000Z")
		line := fmt.Sprintf("%s,%s,%d,-%d,R1", tag, when, 1+rng.IntN(12), 45+rng.IntN(30))
		switch rng.IntN(16) {
		case 0:
			line = fmt.Sprintf("%q,%q,%q,\"-%d.5\",\"R \"\"1\"\", näh\"", tag, when, "2", 45+rng.IntN(30))
		case 1:
			line = strings.ToLower(tag[:6]) + "-" + tag[6:] + line[12:]
		case 2:
			line = before
		case 3:
			line = []string{"", "  ", "*** Ärger ***", ",,,,", "3A08", line[:20], "\x00\x00\x00", tag + ",25:61:00,1,-50", "€,\U0001F3C3"}[rng.IntN(9)]
		case 4:
			if i > n/2 {
				line = "time,antenna,tag" + ends + when + ",7," + tag + ends + "tag,time,antenna,rssi,reader"
			}
		}
		before = line
		b.WriteString(line + ends)
	}
	b.WriteString("3008AB000001,2026-05-17T09:10:00.123Z,1,-5")
	return b.String()
}

func utf16Bytes(s string, big, mark bool) []byte {
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xFEFF}, units...)
	}
	out := make([]byte, 0, 2*len(units))
	for _, u := range units {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return out
}

func latin1(s string) []byte {
	var out []byte
	for _, r := range s {
		if r > 0xFF {
			r = '?'
		}
		out = append(out, byte(r))
	}
	return out
}

var encodings = []struct {
	name string
	of   func(s string) []byte
}{
	{"UTF-8", func(s string) []byte { return []byte(s) }},
	{"UTF-8 with mark", func(s string) []byte { return []byte("\xEF\xBB\xBF" + s) }},
	{"UTF-16 LE with mark", func(s string) []byte { return utf16Bytes(s, false, true) }},
	{"UTF-16 BE with mark", func(s string) []byte { return utf16Bytes(s, true, true) }},
	{"UTF-16 LE", func(s string) []byte { return utf16Bytes(s, false, false) }},
	{"UTF-16 BE", func(s string) []byte { return utf16Bytes(s, true, false) }},
	{"Latin-1", latin1},
}

func readPieces(data []byte, ends ...int) *race.Reads {
	l := New(planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "a.csv"}), 0)
	f := l.File("a.csv")
	from := 0
	for _, to := range append(ends, len(data)) {
		l.Append(f, data[from:to])
		from = to
	}
	l.Finish()
	return l.Reads()
}

// Cutting a file in two anywhere changes nothing, in any encoding, with any line ends.
func TestWhereAFileIsCutNeverShows(t *testing.T) {
	for _, ends := range []string{"\n", "\r\n", "\r"} {
		for _, e := range encodings {
			lines := 50
			if e.name == "UTF-8" && ends == "\r\n" {
				lines = 200
			}
			text := mixedLog(lines, ends)
			base := readPieces([]byte(text))
			if base.Kept < lines*3/4 {
				t.Fatalf("the log under test gives only %d reads", base.Kept)
			}
			data := e.of(text)
			r := readPieces(data)
			check(t, r)
			whole := told(r)
			if e.name != "Latin-1" && whole != told(base) {
				t.Errorf("%s, %q: differs from UTF-8: %s", e.name, ends, firstDifference(whole, told(base)))
			}
			for cut := range data {
				if got := readPieces(data, cut); !alike(got, r) {
					t.Fatalf("%s, %q, cut at %d: %s", e.name, ends, cut, firstDifference(told(got), whole))
				}
			}
			if got := told(readPieces(data, every(len(data))...)); got != whole {
				t.Errorf("%s, %q, byte by byte: %s", e.name, ends, firstDifference(got, whole))
			}
		}
	}
}

func every(n int) (at []int) {
	for i := range n {
		at = append(at, i)
	}
	return at
}

// A snapshot may be taken at any moment: it is what the bytes so far hold, and taking it
// changes nothing after.
func TestSnapshotsOnTheWayChangeNothing(t *testing.T) {
	headless := mixedLog(60, "\n")
	headless = headless[strings.Index(headless, "\n")+1:]
	for name, text := range map[string]string{"with header": mixedLog(60, "\n"), "without": headless} {
		want := told(readPieces([]byte(text)))
		l := New(planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "a.csv"}), 0)
		f := l.File("a.csv")
		for i := range len(text) {
			l.Append(f, []byte(text[i:i+1]))
			r := l.Reads()
			check(t, r)
			if i%37 == 0 {
				other := New(l.plan, 0)
				other.Append(other.File("a.csv"), []byte(text[:i+1]))
				if got, want := told(r), told(other.Reads()); got != want {
					t.Fatalf("%s: after %d bytes: %s", name, i+1, firstDifference(got, want))
				}
			}
		}
		l.Finish()
		if got := told(l.Reads()); got != want {
			t.Errorf("%s: %s", name, firstDifference(got, want))
		}
	}
}

// A snapshot that was given out never changes, and shares what hasn't changed.
func TestSnapshotsAreNeverChanged(t *testing.T) {
	text := []byte(mixedLog(400, "\n"))
	l := New(planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "a.csv"}), 0)
	f := l.File("a.csv")
	type old struct {
		r    *race.Reads
		text string
	}
	var olds []old
	shared := 0
	for len(text) > 0 {
		n := min(70, len(text))
		l.Append(f, text[:n])
		text = text[n:]
		r := l.Reads()
		if again := l.Reads(); again != r {
			t.Fatal("nothing new, yet another snapshot")
		}
		if len(olds) > 0 {
			before := olds[len(olds)-1].r
			for i := range before.Tags.Len() {
				if r.Tags.Len() > i && r.Tags.At(i).Tag == before.Tags.At(i).Tag && len(r.Tags.At(i).Reads) == len(before.Tags.At(i).Reads) {
					if &r.Tags.At(i).Reads[0] != &before.Tags.At(i).Reads[0] {
						t.Fatalf("tag %s has no new reads, yet another slice", r.Tags.At(i).Tag)
					}
					shared++
				}
			}
		}
		olds = append(olds, old{r, told(r)})
	}
	for i, o := range olds {
		if now := told(o.r); now != o.text {
			t.Fatalf("snapshot %d changed: %s", i, firstDifference(o.text, now))
		}
	}
	if shared < 1000 {
		t.Errorf("only %d slices were shared", shared)
	}
}

// Two files in any order of arrival, in any pieces, give the same.
func TestOrderOfArrivalNeverShows(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	text := mixedLog(300, "\n")
	half := strings.Index(text[len(text)/2:], "\n") + len(text)/2 + 1
	files := map[string][]byte{"logs/b.csv": []byte(text[:half]), "logs/a.csv": []byte("tag,time,antenna,rssi,reader\n" + text[half/2:]), "logs/c.csv": []byte(text[half/4 : half])}
	p := planFor("Europe/Lisbon", 2026, 5, 17, race.Log{Path: "logs/*.csv"})
	read := func(order []string, pieces bool) string {
		l := New(p, 0)
		rest := map[string][]byte{}
		for _, name := range order {
			rest[name] = files[name]
			l.File(name)
		}
		for len(rest) > 0 {
			name := order[rng.IntN(len(order))]
			n := len(rest[name])
			if pieces {
				n = min(n, 1+rng.IntN(4000))
			}
			l.Append(l.File(name), rest[name][:n])
			if rest[name] = rest[name][n:]; len(rest[name]) == 0 {
				delete(rest, name)
			}
			if rng.IntN(8) == 0 {
				check(t, l.Reads())
			}
		}
		l.Finish()
		r := l.Reads()
		check(t, r)
		return told(r)
	}
	want := read([]string{"logs/a.csv", "logs/b.csv", "logs/c.csv"}, false)
	if !strings.Contains(want, "twice 1") {
		t.Fatal("no lines in common: the test shows little")
	}
	for range 200 {
		order := []string{"logs/a.csv", "logs/b.csv", "logs/c.csv"}
		rng.Shuffle(3, func(i, j int) { order[i], order[j] = order[j], order[i] })
		if got := read(order, true); got != want {
			t.Fatalf("order %v: %s", order, firstDifference(got, want))
		}
	}
}

// A UTF-16 file that lost a byte is out of step; it comes back into step within a line,
// and no line after that is lost.
func TestALostByteOfUTF16CostsALine(t *testing.T) {
	for _, big := range []bool{false, true} {
		data := utf16Bytes(mixedLog(40, "\n"), big, true)
		whole := readPieces(data)
		cut := append(bytes.Clone(data[:1000]), data[1001:]...)
		r := readPieces(cut)
		check(t, r)
		if lost := whole.Kept + whole.Repeated - r.Kept - r.Repeated; lost > 2 {
			t.Errorf("big-endian %v: %d reads lost, %d bad lines", big, lost, r.BadLines)
		}
		want := told(r)
		for at := range cut {
			if got := told(readPieces(cut, at)); got != want {
				t.Fatalf("big-endian %v, cut at %d: %s", big, at, firstDifference(got, want))
			}
		}
	}
}
