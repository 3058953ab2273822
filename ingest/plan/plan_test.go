package plan

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// shared finds the material that comes with the races whose truth is known.
func shared(t *testing.T) string {
	t.Helper()
	for _, dir := range []string{os.Getenv("TWINMAT_SHARED"), "../../../shared"} {
		if dir == "" {
			continue
		}
		if _, err := os.Stat(filepath.Join(dir, "races")); err == nil {
			return dir
		}
	}
	t.Skip("SKIPPED: the races with known truth are not here; set TWINMAT_SHARED to their folder")
	return ""
}

func show(found []Problem) string {
	var b strings.Builder
	for _, p := range found {
		b.WriteString(p.String() + "\n")
	}
	return b.String()
}

// truth is what the maker of a race says of its plan.
type truth struct {
	Title, Date, Timezone string
	Athletes              int
	Clock                 string  `json:"official_clock"`
	Rounding              string  `json:"rounding"`
	Resolution            float64 `json:"resolution_s"`
	Splits                []struct {
		ID, Line string
		At       float64 `json:"at_m"`
		Required bool
	}
	Lines []struct {
		ID, Keep  string
		Window    float64 `json:"window_s"`
		Tolerance float64 `json:"tolerance_s"`
		Systems   []string
	}
	Waves []struct{ ID, Gun string }
}

// The plan of each race is what its maker says that it is: an account that owes nothing to
// the reading of its race.toml.
func TestTheRacesWithKnownTruthAreReadAsTheirMakerSays(t *testing.T) {
	dir := filepath.Join(shared(t), "races")
	for _, name := range []string{"marathon", "out-and-back", "laps", "triathlon", "dirty"} {
		t.Run(name, func(t *testing.T) {
			b, err := os.ReadFile(filepath.Join(dir, name, "truth", "plan.json"))
			if err != nil {
				t.Fatal(err)
			}
			var want truth
			if err := json.Unmarshal(b, &want); err != nil {
				t.Fatal(err)
			}
			want.Athletes = listed(t, filepath.Join(dir, name, "truth", "athletes.csv"))
			r, found := Load(filepath.Join(dir, name, "race"))
			if r == nil {
				t.Fatal(show(found))
			}
			if d := cmp.Diff(want, told(r)); d != "" {
				t.Error(d)
			}
		})
	}
}

// listed counts the athletes whom the maker left on the list.
func listed(t *testing.T, path string) int {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column, n := slices.Index(rows[0], "listed"), 0
	for _, r := range rows[1:] {
		if r[column] == "true" {
			n++
		}
	}
	return n
}

// told puts a race in the maker's terms.
func told(r *Race) truth {
	p := r.Plan
	c := p.Courses[0]
	got := truth{Title: p.Name, Date: p.Date.Format("2006-01-02"), Timezone: p.Zone.String(), Athletes: len(r.Athletes),
		Clock: clockName(c.Official), Rounding: c.Official.Rounding.Name, Resolution: p.Resolution.Seconds()}
	for _, s := range c.Splits {
		got.Splits = append(got.Splits, struct {
			ID, Line string
			At       float64 `json:"at_m"`
			Required bool
		}{s.ID, p.Lines[s.Line].ID, s.At, s.Required})
	}
	for _, l := range p.Lines {
		var systems []string
		for _, i := range l.Logs {
			systems = append(systems, p.Logs[i].System.String())
		}
		got.Lines = append(got.Lines, struct {
			ID, Keep  string
			Window    float64 `json:"window_s"`
			Tolerance float64 `json:"tolerance_s"`
			Systems   []string
		}{l.ID, l.Keep.String(), l.Window.Seconds(), l.Tolerance.Seconds(), systems})
	}
	for _, w := range p.Waves {
		got.Waves = append(got.Waves, struct{ ID, Gun string }{w.ID, w.Gun.Format(p.Zone)})
	}
	return got
}
