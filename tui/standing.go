package tui

import "twinmat/reconcile/race"

// standing writes times, ranks and what holds them; what the line has no room for begins another.
func (t *telling) standing(p *page) {
	r := t.r
	l := p.line()
	put := func(name string, k ink, what, more string) {
		n := cells(clean(name + what + more))
		switch {
		case l.used == 0:
		case l.left() < n+2:
			l = p.line()
		default:
			l.space(muted, 2)
		}
		l.put(muted, name).put(k, what).put(warn, more)
	}
	put("course ", text, courseID(t.book, r.Course), "")
	if c := t.book.course(r.Course); c != nil && c.ByLaps() && r.Laps > 0 {
		put("", strong, race.Counted(r.Laps, "lap", "laps"), "")
	}
	put("gun ", text, orDash(span(r.GunTime)), "")
	put("net ", text, orDash(span(r.NetTime)), "")
	if r.PM.Known() {
		put(t.look.pm, text, seconds(r.PM)+" s from "+r.From.String(), "")
	}
	if ranks := t.book.RanksOf(r); ranks.All > 0 {
		provisional := ""
		if r.State != race.Clean {
			provisional = " provisional"
		}
		put("rank ", strong, rankWords(r, ranks), provisional)
	}
	if r.Adjust != 0 && r.Adjust.Known() {
		put("", warn, "adjusted by "+span(r.Adjust), "")
	}
	if len(r.HeldFor) > 0 {
		p.prose(bad, t.look.hold+" held for "+casesWords(r.HeldFor), 2)
	}
}
