package tui

import "testing"

// A ruling made over an open story is in its explanation too: until now that was of when the story
// was opened, and contradicted the splits above it.
func TestAnOpenStoryIsExplainedAnew(t *testing.T) {
	d := newDriver(t, 100, 120, 60, nil)
	d.keys("3")
	bib := d.m.bib()
	d.keys("enter")
	d.sees("finish of " + bib)
	d.seesNot("because of ruling 1")
	d.keys("p dnf enter enter")
	if len(d.desk.ruled) != 1 {
		t.Fatalf("ruled %+v", d.desk.ruled)
	}
	d.feed()
	d.sees("because of ruling 1")
}
