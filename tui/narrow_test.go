package tui

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// joined is what the screen says, wherever its lines break.
func (d *driver) joined() string { return strings.Join(strings.Fields(d.screen()), " ") }

// What must be read before a yes is said whole on the narrowest screen.
func TestWordsAreSaidWholeWhereTheScreenIsNarrow(t *testing.T) {
	d := newDriver(t, 60, 24, 300, func(o *Options) { o.ReadOnly, o.Why = true, "another console rules" })
	says := func(want string) {
		t.Helper()
		if got := d.joined(); !strings.Contains(got, want) {
			t.Errorf("the screen doesn't say %q:\n%s", want, d.screen())
		}
	}
	d.rev++
	d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev, Pending: "bib 7 is gone"}, d.m.live)})
	d.keys("S Y")
	says("and the last sound ones stay until somebody says yes")
	says("and so does putting the files back as they were")
	d.keys("esc 1 enter S")
	says("looked at only: what a ruling would change is shown, none can be made")
	d.keys("esc esc p")
	d.m.o.ReadOnly = false
	d.keys("esc p")
	says("nothing is saved before you have seen it")
	d.keys("esc : z z z z")
	says("Rulings may be typed in full: assign-chip --tag … --bib …")
	d.desk.state.Clocks = nil
	d.feed()
	d.keys("esc 4")
	says("that takes chips read by both systems of a line")
}

// A window too low to draw pairs in doesn't say that there are none.
func TestALowWindowHasPairs(t *testing.T) {
	for _, h := range []int{16, 17, 18, 19, 20, 24} {
		d := newDriver(t, 60, h, 300, nil)
		d.keys("S 4")
		d.seesNot("no pairs")
	}
	d := newDriver(t, 60, 16, 300, nil)
	d.keys("S 4")
	d.sees("a higher window draws how far")
}

// Every ruling offered is shown where there is room; where there isn't, it is told how many
// there are, and the chosen one is always in sight.
func TestNoRulingOfferedIsHiddenUnsaid(t *testing.T) {
	for _, h := range []int{20, 24, 40} {
		for _, n := range []int{1, 5, 6, 7, 8, 12} {
			d := newDriver(t, 80, h, 300, nil)
			s := *d.desk.state
			s.Suspects = slices.Clone(s.Suspects)
			for i := range s.Suspects {
				if x := &s.Suspects[i]; x.ID == "overdue:30" {
					x.Proposes, x.Others = "assign-chip --tag A0 --bib 30", nil
					for k := 1; k < n; k++ {
						x.Others = append(x.Others, fmt.Sprintf("assign-chip --tag A%d --bib 30", k))
					}
				}
			}
			d.desk.state = &s
			d.feed()
			d.keys("S")
			d.onCase("overdue:30")
			d.keys("enter")
			c := d.m.top().(*settle)
			if h >= 24 && len(c.choices) < 9 {
				d.seesNot("offered in all") // there is room
			}
			for k := range c.choices {
				s := d.screen()
				whole := true
				for i := range c.choices {
					whole = whole && strings.Contains(s, fmt.Sprintf("\n %d ", i+1)) || strings.Contains(s, fmt.Sprintf("\n▌%d ", i+1))
				}
				if told := strings.Contains(s, fmt.Sprintf("%d offered in all", len(c.choices))); whole == told && !(told && k == len(c.choices)-1) {
					t.Errorf("%d offered at 80 by %d, shown %v, told %v:\n%s", len(c.choices), h, whole, told, s)
				}
				if !strings.Contains(s, fmt.Sprintf("\n▌%d ", k+1)) {
					t.Errorf("the chosen one of %d at 80 by %d is out of sight:\n%s", len(c.choices), h, s)
				}
				d.keys("tab")
			}
		}
	}
}

// With --ascii the race's own words are in letters too; names stay as people write them.
func TestTheRacesWordsAreInLetters(t *testing.T) {
	d := newDriver(t, 80, 24, 300, func(o *Options) { o.ASCII = true })
	d.desk.state.Suspects[0] = d.desk.state.Suspects[0].Own()
	d.desk.state.Suspects[0].Says = "a step of −0.713 s (±0.037) → 10:20 … for Gal·la Núñez"
	d.feed()
	d.keys("S 1 home")
	d.sees("a step of -0.713 s (+-0.037) -> 10:20 ... for Gal·la Núñez")
	if s := d.screen(); strings.ContainsAny(s, "±−→…") {
		t.Errorf("signs with --ascii:\n%s", s)
	}
	d.desk.state.Suspects[0] = d.desk.state.Suspects[0].Own()
	d.desk.state.Suspects[0].Says = strings.Repeat("±… ", 30)
	d.feed()
	if n := strings.Count(d.screen(), "+-... "); n < 30 { // wrapped as it is written
		t.Errorf("%d of 30 words:\n%s", n, d.screen())
	}
	d = newDriver(t, 80, 24, 300, nil)
	d.desk.state.Suspects[0] = d.desk.state.Suspects[0].Own()
	d.desk.state.Suspects[0].Says = "a step of −0.713 s (±0.037)"
	d.feed()
	d.sees("a step of −0.713 s (±0.037)")
}

// A reason of one's own takes the place of the one offered with a key that stands at the foot.
func TestTheFootTellsHowToEmptyAField(t *testing.T) {
	for _, w := range []int{60, 80} {
		d := newDriver(t, w, 24, 300, nil)
		d.keys("S")
		d.onCase("overdue:30")
		d.keys("enter e")
		d.sees("ctrl+u empty", "enter done", "esc as it was")
		d.keys("ctrl+u m a r s h a l enter enter")
		if r := d.desk.ruled; len(r) != 1 || r[0].Why != "marshal" {
			t.Errorf("ruled %+v", r)
		}
		d.keys("esc esc p")
		d.sees("ctrl+u empty", "esc back")
	}
}

// A cell that is too long for its column runs on where those beside it are empty: why a passing
// counts for nothing is told whole, and the end of a chip's number, which tells it from others.
func TestALongCellRunsOnOverEmptyOnes(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	s := d.desk.state
	s.Strays[0].Tag = "36C19E3779FE000000090189"
	s.Strays[0].Passings[0].At = s.Now
	r := s.Results[11]
	r.Name = "Jorunn Gorsefield-Thistlewood"
	p := &r.Passings[len(r.Passings)-1]
	p.At, p.Fate, p.Split = s.Now-1000, race.AfterLimit, -1
	r.Filled = []int{r.Filled[0], -1, -1}
	d.feed()
	d.keys("2")
	d.sees("? chip …0000090189 ", " (after the limit) Jorunn Gorsefield-Th… main ")
	d.sees(" Gil Gorsefield…    96 ") // one with a rank keeps to its column
}

// Who is late by minutes isn't taken for late by hours, and nobody is left out of the list unsaid.
func TestStillOutIsNotMisread(t *testing.T) {
	for d, want := range map[race.Millis]string{race.NoMillis: "-", -1: "0m00", 45_000: "0m45", 554_000: "9m14", 599_999: "9m59", 600_000: "0h10", 4_260_000: "1h11"} {
		if got := hours(d); got != want {
			t.Errorf("%d ms is told as %q, want %q", int64(d), got, want)
		}
	}
	for _, w := range []int{60, 80} {
		d := newDriver(t, w, 24, 300, nil)
		d.keys("S 6")
		if got := d.joined(); !strings.Contains(got, "on the way, 0 overdue, longest awaited first; 0 unseen are not here") {
			t.Errorf("at %d columns:\n%s", w, d.screen())
		}
	}
}

// Half of a field comes later than its middle: only who is overdue is marked, looked at or not.
func TestOnlyTheOverdueAreMarked(t *testing.T) {
	for _, settled := range []bool{false, true} {
		d := newDriver(t, 100, 24, 300, nil)
		d.desk.state.Now = d.desk.state.Now.Add(15 * 60 * 1000)
		s := race.Suspect{Finding: &race.Finding{ID: "overdue:215", Kind: race.Overdue, Bibs: []string{"215"}, Split: "finish"}, Settled: settled}
		d.desk.state.Suspects = append(d.desk.state.Suspects, s)
		d.feed()
		d.keys("S 6")
		d.sees("on the way, 1 overdue, longest")
		o := d.m.screens[screenOut].(*out)
		marked, late := 0, 0
		for i := range o.rows {
			if o.row(i).Late > 0 {
				late++
			}
			if k, _ := o.Mark(o.look, i); k == warn {
				if marked++; o.ID(i) != "215" {
					t.Errorf("%s is marked", o.ID(i))
				}
			}
		}
		if marked != 1 || late < 5 {
			t.Errorf("%d are marked, %d late:\n%s", marked, late, d.screen())
		}
	}
}

// What a ruling would change is seen before it is made, on a low window too.
func TestALowWindowShowsWhatARulingChanges(t *testing.T) {
	for _, h := range []int{15, 16, 18, 20, 24} {
		d := newDriver(t, 60, h, 300, nil)
		s := *d.desk.state
		s.Suspects = slices.Clone(s.Suspects)
		for i := range s.Suspects {
			if x := &s.Suspects[i]; x.ID == "overdue:30" {
				x.Says = strings.Repeat("30 was last read at the bridge, and expected long ago. ", 5)
				x.Proposes, x.Others = "set-status --bib 30 --status dnf", []string{"set-status --bib 30 --status dsq"}
			}
		}
		d.desk.state = &s
		d.feed()
		d.keys("S")
		d.onCase("overdue:30")
		d.keys("enter")
		if got := d.screen(); !strings.Contains(got, "→ dnf") {
			t.Errorf("%d lines don't show what would change:\n%s", h, got)
		}
	}
}
