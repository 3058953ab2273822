package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

var logTime = regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[^,\s]*`)

// thinned is a log of which every second line is missing, on a clock that is by ahead: a
// second box at the same line, with reads of its own.
func thinned(t *testing.T, text string, by time.Duration) string {
	t.Helper()
	var b strings.Builder
	for i, line := range strings.SplitAfter(text, "\n") {
		if i > 0 && i%2 == 0 {
			continue
		}
		b.WriteString(logTime.ReplaceAllStringFunc(line, func(s string) string {
			at, err := time.Parse(time.RFC3339Nano, s)
			if err != nil {
				t.Fatal(err)
			}
			return at.Add(by).Format("2006-01-02T15:04:05.000Z07:00")
		}))
	}
	return b.String()
}

// Two backups at one line are each aligned by their own reads, with a main and, the first of
// them being the reference then, without.
func TestSeveralBackupsAtALine(t *testing.T) {
	for _, withMain := range []bool{true, false} {
		t.Run(fmt.Sprintf("main %v", withMain), func(t *testing.T) {
			m, err := invent.Make(invent.Options{Kind: "road", Seed: 1, Athletes: 300})
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := m.Write(dir); err != nil {
				t.Fatal(err)
			}
			backup, err := os.ReadFile(filepath.Join(dir, "logs", "finish-backup.csv"))
			if err != nil {
				t.Fatal(err)
			}
			const by = 7350 * time.Millisecond
			if err := os.WriteFile(filepath.Join(dir, "logs", "finish-third.csv"), []byte(thinned(t, string(backup), by)), 0o644); err != nil {
				t.Fatal(err)
			}
			toml := filepath.Join(dir, "race.toml")
			plan, err := os.ReadFile(toml)
			if err != nil {
				t.Fatal(err)
			}
			text := string(plan)
			third := "  [[line.log]]\n  system = \"backup\"\n  path   = \"logs/finish-third.csv\"\n\n"
			at := strings.Index(text, "[[course]]")
			text = text[:at] + third + text[at:]
			if !withMain {
				from := strings.LastIndex(text[:strings.Index(text, "logs/finish-main.csv")], "  [[line.log]]")
				to := from + strings.Index(text[from+5:], "[[line.log]]") + 3
				text = text[:from] + text[to:]
			}
			if err := os.WriteFile(toml, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			f, err := ingest.Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			st := reconcile.Compute(f.Input())
			offset := map[string]race.ClockStretch{}
			for _, c := range st.Clocks {
				offset[st.Plan.Logs[c.Source].Path] = c
			}
			first, second := offset["logs/finish-backup.csv"], offset["logs/finish-third.csv"]
			if d := second.Offset - first.Offset - by.Seconds(); math.Abs(d) > 0.1 || second.Pairs < 100 || withMain && first.Pairs < 100 {
				t.Errorf("the two are %+.3f s apart beyond what they are; %d and %d pairs", d, first.Pairs, second.Pairs)
			}
			for i := range st.Suspects {
				if s := &st.Suspects[i]; s.Line == "finish" && (s.Kind == race.ClockUnsure || s.Kind == race.ClockStep) {
					t.Errorf("%s: %s", s.ID, s.Says)
				}
			}
		})
	}
}
