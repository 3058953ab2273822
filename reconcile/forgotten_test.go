package reconcile_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
)

// A chip that lies beside the loop is read now and then, sooner than anybody rides a lap: its
// twentieth "lap" comes before the leader's, and flags nobody off.
func TestAForgottenChipFlagsNobodyOff(t *testing.T) {
	for _, seed := range []uint64{16, 29} {
		forgottenChip(t, seed)
	}
}

func forgottenChip(t *testing.T, seed uint64) {
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(seed, 9))
	gun := time.Date(2026, 6, 14, 12, 0, 0, 0, time.UTC)
	athletes, chips := "bib,wave\n", "tag,bib\n"
	log := strings.Builder{}
	read := func(bib int, s float64) {
		fmt.Fprintf(&log, "T%03d,%s,1,-60\n", bib, gun.Add(time.Duration(s*1e9)).Format("2006-01-02T15:04:05.000Z07:00"))
	}
	log.WriteString("tag,time,antenna,rssi\n")
	for bib := 1; bib <= 13; bib++ {
		athletes += fmt.Sprintf("%d,A\n", bib)
		chips += fmt.Sprintf("T%03d,%d\n", bib, bib)
		if bib == 13 {
			for at := 20.; at < 1000; at += 15 * rng.ExpFloat64() { // now and then it isn't heard for a while
				for end := at + 25*rng.ExpFloat64(); at < end; at += 4 * rng.ExpFloat64() {
					read(bib, at)
				}
			}
			continue
		}
		at := float64(bib) / 3
		for range 20 {
			at += 45 + float64(bib)/10 + 0.4*rng.NormFloat64()
			read(bib, at)
		}
	}
	for name, text := range map[string]string{"athletes.csv": athletes, "chips.csv": chips, "main.csv": log.String(), "race.toml": `format = 1
name = "Loop"
date = 2026-06-14
timezone = "UTC"
[chips]
resolution = "0.003s"
max_speed = "50 m/s"
[[line]]
id = "loop"
window = "2s"
  [[line.log]]
  system = "main"
  path = "main.csv"
[[course]]
id = "karts"
sport = "kart"
lapped = "flagged"
  [[course.split]]
  id = "lap"
  line = "loop"
  at = "900m"
  repeat = 20
[[wave]]
id = "A"
course = "karts"
gun = 12:00:00
`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ingest.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st := reconcile.Compute(f.Input())
	for _, bib := range []string{"1", "2", "3"} {
		if r := st.Results[st.ByBib[bib]]; r.Laps != 20 {
			t.Errorf("seed %d: %s, who rode 20 laps, has %d", seed, bib, r.Laps)
		}
	}
}
