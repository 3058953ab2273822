package tui

import (
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// Main at the turn falls silent: told at once, urgent; backup's times stand in its place, and
// say so; the case is accepted with two keys and the notice goes with it.
func TestAMainOutageIsFilledAndSettled(t *testing.T) {
	d := newDriver(t, 80, 24, 300, nil)
	s := *d.desk.state
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
	r := s.Results[s.ByBib["2"]]
	r.Passings = slices.Clone(r.Passings)
	p := &r.Passings[r.Filled[1]]
	p.Bursts[race.Main], p.From, p.PlusMinus = nil, race.FromBackup, 310
	s.Suspects = append([]race.Suspect{{Finding: &race.Finding{ID: "silent-log:turn/main@09:12", Kind: race.SilentLog, Weight: race.Look, Line: "turn", At: gunAt.Add(720000), Evidence: "silent 1",
		Says: "Main at turn read nobody from 09:12:00 to 09:20:00 while backup read 96.", Proposes: "accept --suspect silent-log:turn/main@09:12", Strong: true}, Urgency: 99}}, s.Suspects...)
	d.desk.state = &s
	d.feed()
	if n := d.m.watch.first(); n == nil || n.Level != Urgent {
		t.Fatalf("the first notice is %+v", n)
	}
	d.keys("/ 2 enter")
	d.sees("turn      -            09:24:24.536   0:14:24 backup")
	d.keys("esc esc esc 1")
	d.onCase("silent-log:turn/main@09:12")
	d.keys("enter")
	d.sees("Main at turn read nobody from 09:12:00 to 09:20:00", "accept: right as it stands", "much the likeliest")
	d.keys("enter")
	if r := d.desk.ruled; len(r) != 1 || r[0].Rule != race.Accept || r[0].Suspect != "silent-log:turn/main@09:12" || r[0].Evidence != "silent 1" {
		t.Fatalf("ruled %+v", r)
	}
	d.feed()
	d.seesNot("Main at turn read nobody")
	for _, n := range d.m.watch.waiting {
		if n.Key == "silent-log:turn/main@09:12" {
			t.Error("its notice still waits")
		}
	}
}
