package tui

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

func lines(s string) []string { return strings.Split(s, "\n") }

// heading writes the two top lines: the race and its clock, and the screens.
func (m *root) heading(p *page) {
	b := m.sight.book
	r := p.line()
	r.force, r.forced = true, band
	mode := m.mode()
	clock := "race clock " + clockOf(b.State, b.Now)
	right := fmt.Sprintf("%s  %s", clock, mode)
	if m.w >= 100 {
		right = fmt.Sprintf("%s  here %s  %s", clock, m.sight.now.In(zoneOf(b)).Format("15:04:05"), mode)
	}
	counts := fmt.Sprintf("%d in  %d still out  %d unseen  %s", b.In, b.Out, b.total(race.Unseen), race.Counted(b.open, "case", "cases"))
	if m.w < 90 {
		clock = clockOf(b.State, b.Now)
		right = clock + "  " + mode
	}
	if m.w < 78 {
		counts, right = fmt.Sprintf("%d in %d out", b.In, b.Out), clockOf(b.State, b.Now)+" "+mode
	}
	name := b.Plan.Name // as the plan has it now: it may be mended while the console is open
	if name == "" {
		name = m.o.Title
	}
	room := m.w - cells(right) - 2
	r.gap(1).cell(band, name, max(min(room-cells(counts)-3, cells(clean(name))), 8)).gap(2)
	r.write(band, counts, max(room-r.used, 0), false)
	r.to(m.w - cells(right) - 1)
	r.put(band, right).gap(1)

	r = p.line()
	r.gap(1)
	names, gap := m.titles()
	for i, name := range names {
		label := fmt.Sprintf("%d %s", i+1, name)
		if i == m.on {
			r.put(picked, label)
		} else {
			r.put(muted, label)
		}
		r.gap(gap)
	}
}

// mode says in a word what is being looked at.
func (m *root) mode() string {
	switch {
	case m.history != nil:
		return "AS IT STOOD"
	case m.frozen:
		return "FROZEN"
	case m.o.ReadOnly:
		return "READ ONLY"
	}
	return "LIVE"
}

// clockOf is an instant as a clock in the race's zone.
func clockOf(s *race.State, t race.Instant) string {
	if !t.Known() || s.Plan.Zone == nil {
		return "--:--:--"
	}
	return t.Clock(s.Plan.Zone)
}

// footer writes the keys that are live here, most useful first, as far as they go.
func (m *root) footer(p *page) {
	r := p.line()
	sc := m.scope()
	// The way out of what lies over a screen always has its place.
	way, room := m.find("esc"), p.w
	out := ""
	switch {
	case way == nil:
	case m.top() != nil:
		out = way.short
	case m.history != nil || m.frozen: // what is on the screen isn't now
		out = "now"
	}
	if out == "" {
		way = nil
	} else {
		room -= len("esc ") + cells(out)
	}
	for pass := 1; pass <= 2; pass++ {
		for i := range actions {
			a := &actions[i]
			if a.scope&sc == 0 || a.foot != pass || len(a.keys) == 0 || a == way {
				continue
			}
			k, short := keyName(a.keys[0], p.look), a.short
			off := a.why != nil && a.why(m) != ""
			if off {
				short = "(" + short + ")"
			}
			if r.used+cells(k)+len(short)+3 > room {
				pass = 3
				break
			}
			r.put(keycap, k).gap(1)
			if off {
				r.put(muted, short)
			} else {
				r.put(text, short)
			}
			r.gap(2)
		}
	}
	if way != nil {
		r.put(keycap, "esc").gap(1).put(text, out)
	}
}
