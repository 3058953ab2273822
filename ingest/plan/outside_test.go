package plan

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
	"pgregory.net/rapid"

	"twinmat/reconcile/race"
)

// The checks here are against code that isn't ours: the standard library's and go-toml's own readers.

// Wherever time.ParseDuration reads a length in our units and order, both agree to the
// millisecond that is cut to.
func TestLengthAgreesWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"", "+", "-"}).Draw(t, "sign")
		units := []string{"h", "m", "s", "ms"}
		for i := rapid.IntRange(0, 3).Draw(t, "first unit"); i < 4; i++ {
			text += rapid.StringMatching(`[0-9]{1,4}`).Draw(t, "number")
			last := i == 3 || rapid.Bool().Draw(t, "last")
			if last && rapid.Bool().Draw(t, "with a fraction") {
				text += "." + rapid.StringMatching(`[0-9]{1,6}`).Draw(t, "fraction")
			}
			text += units[i]
			if last {
				break
			}
		}
		want, err := time.ParseDuration(text)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		got, err := Length(text)
		if beyond := want > 10_000*time.Hour || want < -10_000*time.Hour; beyond != (err != nil) {
			t.Fatalf("Length(%q) = %d, %v", text, got, err)
		} else if beyond {
			return
		}
		// Cut number by number, so at most a millisecond from the whole cut at once.
		if got != race.Millis(want.Milliseconds()) {
			t.Fatalf("Length(%q) = %d, want %d", text, got, want.Milliseconds())
		}
	})
}

func TestInstantAgreesWithTheStandardLibrary(t *testing.T) {
	p := planOn(t, "Europe/Lisbon", "2026-05-17")
	rapid.Check(t, func(t *rapid.T) {
		zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "minutes east"))
		at := time.Unix(rapid.Int64Range(-2_000_000_000, 30_000_000_000).Draw(t, "seconds"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns")).In(zone)
		text := at.Format(time.RFC3339Nano)
		want, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := Instant(p, text); err != nil || got != race.Of(want) {
			t.Fatalf("Instant(%q) = %d, %v; want %d", text, got, err, race.Of(want))
		}
	})
}

// What encoding/csv reads by RFC 4180, our reader reads the same, spaces about cells aside.
func FuzzCells(f *testing.F) {
	f.Add("bib,wave\n1,A\n")
	f.Add("bib,wave\r\n\"a\"\"b\",\"c\r\nd\"\r\n\r\n,x")
	// RFC 4180 section 2, rules 5 to 7.
	f.Add("aaa,bbb\n\"aaa\",\"b\nbb\",\"ccc\"\nzzz,yyy,xxx\n\"aaa\",\"b\"\"bb\",\"ccc\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		if strings.Contains(text, "\r") && !strings.Contains(text, "\n") || strings.HasPrefix(strings.ToLower(strings.TrimSpace(text)), "sep=") ||
			strings.ContainsAny(text, "\x00\ufeff") || strings.ContainsAny(firstLine(text), ";\t|") || len(text) > maxCells {
			t.Skip("read in our own way")
		}
		c := csv.NewReader(strings.NewReader(text))
		c.FieldsPerRecord = -1
		want, err := c.ReadAll()
		if err != nil {
			t.Skip("not RFC 4180")
		}
		want = slices.DeleteFunc(want, func(r []string) bool {
			return !slices.ContainsFunc(r, func(s string) bool { return strings.TrimSpace(s) != "" })
		})
		l := &list{file: "x", found: &problems{}, text: []byte(text), lines: linesOf([]byte(text)), comma: ','}
		if firstInvalid(l.text) >= 0 {
			t.Skip("a code page")
		}
		for at := 0; at < len(l.text); {
			next := l.record(at)
			if next <= at {
				t.Fatalf("%q: stuck at %d", text, at)
			}
			at = next
		}
		if len(l.found.list) > 0 || len(l.rows) != len(want) {
			t.Fatalf("%q: %d records, want %d\n%s", text, len(l.rows), len(want), show(l.found.list))
		}
		for i, r := range l.rows {
			for j, cell := range r.cells {
				if j >= len(want[i]) || cell.text != strings.TrimSpace(want[i][j]) && strings.ReplaceAll(cell.text, "\r\n", "\n") != strings.TrimSpace(want[i][j]) {
					t.Fatalf("%q: record %d: %v, want %q", text, i, r.cells, want[i])
				}
			}
		}
	})
}

func firstLine(s string) string {
	s = strings.TrimLeft(s, " \t\r\n")
	line, _, _ := strings.Cut(s, "\n")
	return line
}

// The tree holds what the library's decoder holds: the same keys, and as many values.
func FuzzTree(f *testing.F) {
	f.Add("a = 1\n[b]\nc = [1, {d = 2}]\n[[e]]\nf.g = \"x\"\n[e.h]\ni = 1979-05-27\n[[e]]\n")
	f.Add(goodPlan)
	f.Fuzz(func(t *testing.T, text string) {
		var want map[string]any
		if toml.Unmarshal([]byte(text), &want) != nil {
			t.Skip("not TOML")
		}
		d := readDocument(&problems{}, []byte(text))
		if d.root == nil || d.faults {
			t.Fatalf("%q is refused", text)
		}
		same(t, text, d.root, want, 0)
	})
}

func same(t *testing.T, text string, got *table, want map[string]any, depth int) {
	t.Helper()
	if depth > maxParts-2 {
		return // keys of more parts are cut on purpose
	}
	if len(got.keys) != len(want) {
		t.Fatalf("%q: %d keys in %q, want %d", text, len(got.keys), got.name, len(want))
	}
	for name, v := range want {
		k := got.named[name]
		if k == nil {
			t.Fatalf("%q: no %q", text, name)
		}
		switch v := v.(type) {
		case map[string]any:
			if k.item.sub == nil {
				t.Fatalf("%q: %q is no table", text, name)
			}
			same(t, text, k.item.sub, v, depth+1)
		case []any:
			if len(k.item.list) != len(v) {
				t.Fatalf("%q: %q holds %d, want %d", text, name, len(k.item.list), len(v))
			}
		case string:
			if k.item.text != v {
				t.Fatalf("%q: %q is %q, want %q", text, name, k.item.text, v)
			}
		}
	}
}
