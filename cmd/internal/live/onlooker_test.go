package live

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"twinmat/ingest/journal"
	"twinmat/reconcile/race"
)

// Who only looks sees what is ruled at the other console, and what somebody made of the rulings
// by hand, until it is mended.
func TestWhoOnlyLooksFollowsTheRulings(t *testing.T) {
	defer func(d time.Duration) { rulingsEvery = d }(rulingsEvery)
	rulingsEvery = 10 * time.Millisecond
	c := newCourse(t, 33, 20)
	for _, p := range c.files {
		c.append(p, 40)
	}
	c.open()
	defer c.close()
	c.rest("who rules")
	onlooker := *c
	onlooker.watch()
	defer onlooker.close()
	bib := c.run.State().Results[0].Bib
	for _, status := range []string{"none", "dnf"} {
		if _, err := c.run.Rule(race.Ruling{Rule: race.SetStatus, Bib: bib, Status: status, Why: "told"}, "me"); err != nil {
			t.Fatal(err)
		}
	}
	onlooker.rest("who looks, after two rulings")
	if n := onlooker.run.Rulings(); n != 2 {
		t.Errorf("%d rulings are known, want 2", n)
	}
	path := filepath.Join(c.dir, journal.File)
	sound, err := os.ReadFile(path)
	if err == nil {
		err = os.WriteFile(path, append([]byte("x"), sound...), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	waitFor(t, onlooker.run, "that ruling is left out")
	if err := os.WriteFile(path, sound, 0o600); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(60 * time.Second); standsNotice(onlooker.run, "that ruling is left out"); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("rulings that were mended are still said to be unreadable")
		}
	}
	onlooker.rest("who looks, after the rulings were mended")
}
