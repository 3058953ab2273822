package export

import (
	"bytes"
	"encoding/csv"
	"testing"
)

// Cells are quoted as encoding/csv quotes them, whatever is in them.
func FuzzSheet(f *testing.F) {
	for _, s := range []string{"", "a", `\.`, "a,b", `say "go"`, "\r\n", " x", "\u00a0x", "x ", "\xff,", "\u2028", `"`, "=1"} {
		f.Add(s, "b")
		f.Add("a", s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		var got, want bytes.Buffer
		if err := table(&got, nil, "x,y", func(s *sheet) {
			s.cells(a, b)
			s.end()
			s.cell(b)
			s.place(0)
			s.end()
		}); err != nil {
			t.Fatal(err)
		}
		c := csv.NewWriter(&want)
		_ = c.WriteAll([][]string{{"x", "y"}, {a, b}, {b, ""}})
		if got.String() != want.String() {
			t.Errorf("%q, %q: got %q, want %q", a, b, got.String(), want.String())
		}
	})
}

// A table longer than a piece of memory comes out whole, and a writer's error is told.
func TestSheetInPieces(t *testing.T) {
	var b bytes.Buffer
	const rows = 100_000
	write := func(s *sheet) {
		for i := range rows {
			s.number(i)
			s.end()
		}
	}
	if err := table(&b, nil, "n", write); err != nil {
		t.Fatal(err)
	}
	if got, err := csv.NewReader(&b).ReadAll(); err != nil || len(got) != rows+1 || got[rows][0] != "99999" {
		t.Errorf("%d rows, %v", len(got), err)
	}
	if err := table(full{}, nil, "n", write); err == nil {
		t.Error("a full disk was not told")
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, bytes.ErrTooLarge }
