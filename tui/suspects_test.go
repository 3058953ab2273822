package tui

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// manySuspects is a race with so many cases that nobody can ever look at them: of several
// kinds, most of them holding somebody, some settled.
func manySuspects(athletes, n int) *race.State {
	s := fixture(athletes)
	kinds := []string{race.MissingSplit, race.UnlikelyPace, race.ExtraPassing, race.Clash, race.UnassignedChip, race.Overdue}
	s.Suspects = make([]race.Suspect, 0, n)
	for i := range n {
		bib := s.Results[i%len(s.Results)].Bib
		x := race.Suspect{Finding: &race.Finding{ID: fmt.Sprintf("%s:%s:%d", kinds[i%len(kinds)], bib, i), Kind: kinds[i%len(kinds)], Bibs: []string{bib}, Line: "finish",
			At: s.Now.Add(-race.Millis(i)), Evidence: "e",
			Says: fmt.Sprintf("Case %d of bib %s: nobody saw it at the finish, and the pace before it says 0:41:12.", i, bib), Proposes: "set-status --bib " + bib + " --status dnf"}, Urgency: n - i}
		if i%3 > 0 {
			x.Weight, x.Holds = race.Hold, x.Bibs
		}
		if i > n-n/50 { // the settled stand last
			x.Settled, x.SettledBy, x.Holds = true, 1, nil
		}
		s.Suspects = append(s.Suspects, x)
	}
	return s
}

const beyondMeasure = 1_000_000

func BenchmarkSuspectsBook(b *testing.B) {
	s := manySuspects(many, beyondMeasure)
	b.ReportAllocs()
	for b.Loop() {
		newBook(Update{State: s}, nil)
	}
}

func BenchmarkSuspectsTake(b *testing.B) {
	s := manySuspects(many, beyondMeasure)
	d := newDriver(b, 200, 50, 100, nil)
	d.desk.state = s
	d.feed()
	for _, keys := range []string{"1", "3", "8"} {
		b.Run("screen "+keys, func(b *testing.B) {
			d.keys(keys)
			books := [2]*book{newBook(Update{State: s}, nil), newBook(Update{State: s}, nil)}
			b.ReportAllocs()
			var i int
			for b.Loop() {
				i++
				d.m.Update(bookMsg{books[i%2]})
			}
		})
	}
}

func BenchmarkSuspectsFrame(b *testing.B) {
	d := newDriver(b, 200, 50, 100, nil)
	d.desk.state = manySuspects(many, beyondMeasure)
	d.feed()
	for _, f := range frames {
		b.Run(f.name, func(b *testing.B) {
			d.keys("esc esc esc " + f.keys)
			for b.Loop() {
				d.m.redraw()
			}
		})
	}
}

func BenchmarkSuspectsKey(b *testing.B) {
	d := newDriver(b, 200, 50, 100, nil)
	d.desk.state = manySuspects(many, beyondMeasure)
	d.feed()
	d.keys("1")
	for _, key := range []string{"down", "pgdown", "end", "home"} {
		b.Run(key, func(b *testing.B) {
			k := press(key)
			for b.Loop() {
				d.m.Update(k)
			}
		})
	}
}

// What cases cost the program's loop doesn't grow with them: a snapshot is taken and every
// screen drawn in memory that a hundred times as many cases don't need more of.
func TestManySuspectsCostTheLoopNothing(t *testing.T) {
	cost := func(n int) (taken, drawn uint64) {
		d := newDriver(t, 120, 40, 100, nil)
		d.desk.state = manySuspects(300, n)
		d.feed()
		next := newBook(Update{State: d.desk.state, Revision: 7}, d.m.live)
		if len(next.news) > 0 {
			t.Errorf("%d cases are news a second time", len(next.news))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		d.m.Update(bookMsg{next})
		runtime.ReadMemStats(&after)
		taken = after.TotalAlloc - before.TotalAlloc
		for _, f := range frames {
			d.keys("esc esc esc " + f.keys)
			runtime.ReadMemStats(&before)
			d.m.redraw()
			runtime.ReadMemStats(&after)
			drawn = max(drawn, after.TotalAlloc-before.TotalAlloc)
		}
		d.keys("esc esc esc 1 end")
		open := d.m.live.open
		if got, want := d.m.View(), fmt.Sprintf("Case %d of", open-1); !strings.Contains(got, want) || !strings.Contains(got, fmt.Sprintf("%d open cases", open)) {
			t.Errorf("the last of %d cases isn't shown:\n%s", open, got)
		}
		return taken, drawn
	}
	takenFew, drawnFew := cost(600)
	taken, drawn := cost(60_000)
	if taken > 2*takenFew+100_000 || drawn > 2*drawnFew+100_000 {
		t.Errorf("taking costs %d bytes and drawing %d; with a hundredth of the cases %d and %d", taken, drawn, takenFew, drawnFew)
	}
}
