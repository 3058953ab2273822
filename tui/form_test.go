package tui

import "testing"

// What a case tells is the reason of a ruling on its bibs, and on its chip; of anybody else's it
// would be a wrong one that nobody wrote.
func TestWhatACaseTellsIsNoOtherBibsReason(t *testing.T) {
	for _, k := range []struct{ keys, why string }{
		{"j j p dnf enter enter", "7 and 9 both fit better exchanged: 21 against 3 times as likely."},
		{"j j p shift+tab ctrl+u 9 tab dnf enter enter", "7 and 9 both fit better exchanged: 21 against 3 times as likely."},
		{"j j p shift+tab ctrl+u 90 tab dnf enter enter", "ruled at the console"},
		{"j j p shift+tab ctrl+u 90 tab dnf tab seen enter enter", "seen"},
		{"j j p dnf tab ctrl+u seen shift+tab shift+tab ctrl+u 90 tab enter enter", "seen"},
		{"j a 14 enter enter", "31 reads of AB00F77A at start, turn, finish; nobody has it. Bib 14 is missing with that wave and pace."},
		{"j t 14 tab turn tab 10:20:00 enter enter", "ruled at the console"}, // of a bib that the case doesn't name
	} {
		d := newDriver(t, 120, 40, 100, nil)
		d.keys(k.keys)
		if n := len(d.desk.ruled); n != 1 {
			t.Fatalf("%s: %d rulings:\n%s", k.keys, n, d.screen())
		}
		if why := d.desk.ruled[0].Why; why != k.why {
			t.Errorf("%s: kept with %q, want %q", k.keys, why, k.why)
		}
	}
}

// Leaving asks where something typed would be lost, whatever field it stands in, and nowhere else.
func TestLeavingAsksForWhatWasTyped(t *testing.T) {
	for _, k := range []struct {
		keys string
		asks bool
	}{
		{"j j p", false}, // the bib is the case's
		{"a", false},
		{"a AB00F77A", true},
		{"a AB00F77A ctrl+u", false},
		{"j j p tab tab ctrl+u seen", true},
		{"j j p shift+tab ctrl+u 90", true},
	} {
		d := newDriver(t, 120, 40, 100, nil)
		d.keys(k.keys + " ctrl+c")
		if d.quit == k.asks {
			t.Errorf("%s: left without being asked: %v, want %v:\n%s", k.keys, d.quit, !k.asks, d.screen())
		}
	}
}
