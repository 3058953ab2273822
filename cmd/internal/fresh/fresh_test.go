package fresh

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"twinmat/ingest/plan"
)

func template(t *testing.T) (toml string, athletes, chips []byte) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "race")
	if err := Write(dir, time.Date(2026, 5, 17, 12, 0, 0, 0, time.UTC)); err != nil {
		t.Fatal(err)
	}
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	return string(read("race.toml")), read("athletes.csv"), read("chips.csv")
}

func TestTheNewPlanIsSound(t *testing.T) {
	toml, athletes, chips := template(t)
	r, problems := plan.Parse([]byte(toml), athletes, chips)
	if r == nil || len(problems) > 0 {
		t.Fatal(problems)
	}
	if got := r.Plan.Date.Format("2006-01-02"); got != "2026-05-17" {
		t.Errorf("dated %s", got)
	}
}

var commented = regexp.MustCompile(`(?m)^(\s*)# (\w+)(\s*= )`)

// What is commented out is right as it stands: each key alone can be taken in.
func TestEachCommentedKeyCanBeTakenIn(t *testing.T) {
	toml, athletes, chips := template(t)
	all := commented.FindAllStringSubmatchIndex(toml, -1)
	if len(all) < 15 {
		t.Fatalf("only %d keys are commented out", len(all))
	}
	for _, m := range all {
		with := toml[:m[3]] + toml[m[4]:]
		if r, problems := plan.Parse([]byte(with), athletes, chips); r == nil || len(problems) > 0 {
			t.Errorf("%s: %v", toml[m[4]:m[5]], problems)
		}
	}
}

// Every key that a plan may have is shown: the reader of plans names them when it sees one
// that it doesn't know.
func TestEveryKeyIsShown(t *testing.T) {
	toml, athletes, chips := template(t)
	seen := 0
	for _, place := range []string{"format ", "window ", "clock  ", "resolution ", `id = "start"` + "\n#", "system = \"main\"      #", `id    = "half"`, `id   = "start"`, `id     = "A"`} {
		if !strings.Contains(toml, place) {
			t.Fatalf("the plan has no %q", place)
		}
		_, problems := plan.Parse([]byte(strings.Replace(toml, place, "nonsense = 1\n"+place, 1)), athletes, chips)
		for _, p := range problems {
			if !strings.Contains(p.What, "nonsense") {
				continue
			}
			seen++
			list := strings.NewReplacer(" and ", ", ", " or ", ", ").Replace(strings.TrimPrefix(p.Want, "one of "))
			for key := range strings.SplitSeq(list, ", ") {
				if !regexp.MustCompile(`(?m)(^|[ #{,(\[.])` + regexp.QuoteMeta(key) + `(\s*=|\]|,| and)`).MatchString(toml) {
					t.Errorf("%s: the new plan doesn't show %q", strings.TrimSpace(place), key)
				}
			}
		}
	}
	if seen < 9 {
		t.Errorf("only %d of 9 tables told their keys", seen)
	}
}

func TestARaceIsNeverWrittenOver(t *testing.T) {
	for _, name := range []string{"race.toml", "athletes.csv", "chips.csv", "rulings.jsonl"} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, name), []byte("mine"), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := Write(dir, time.Now()); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
		left, _ := os.ReadDir(dir)
		if len(left) != 1 {
			t.Errorf("%s: the folder now holds %v", name, left)
		}
	}
}
