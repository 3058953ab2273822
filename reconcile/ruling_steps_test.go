package reconcile_test

import (
	"fmt"
	"slices"

	"twinmat/reconcile"
	"twinmat/reconcile/race"
	"twinmat/reconcile/ruling"
)

// rule makes a ruling of any kind, where it applies.
func (b *stepper) rule() {
	st, rng := b.st, b.rng
	if st == nil || len(st.Results) == 0 {
		return
	}
	p := b.in.Plan
	x := st.Results[rng.IntN(len(st.Results))]
	tm := func(t race.Instant) string { return t.Format(p.Zone) }
	var some race.Instant = st.Now
	for range 5 {
		y := st.Results[rng.IntN(len(st.Results))]
		if len(y.Passings) > 0 {
			some = y.Passings[rng.IntN(len(y.Passings))].At
			break
		}
	}
	if !some.Known() {
		return
	}
	ln := p.Lines[rng.IntN(len(p.Lines))].ID
	sys := []string{"main", "backup", "hand"}[rng.IntN(3)]
	split := ""
	if len(x.Splits) > 0 {
		split = x.Splits[rng.IntN(len(x.Splits))].ID
	}
	line := ""
	switch rng.IntN(20) {
	case 0:
		line = fmt.Sprintf("adjust-time --bib %s --by +%ds", x.Bib, 1+rng.IntN(90))
	case 1:
		line = fmt.Sprintf("swap-bibs --bib %s --with %s", x.Bib, b.bib())
	case 2:
		if len(b.in.Rulings) > 0 {
			line = fmt.Sprintf("undo --seq %d", 1+rng.IntN(len(b.in.Rulings)))
		}
	case 3:
		if len(x.Passings) > 0 {
			q := &x.Passings[rng.IntN(len(x.Passings))]
			line = fmt.Sprintf("void-passing --bib %s --line %s --at %s", x.Bib, p.Lines[q.Line].ID, tm(q.At))
		}
	case 4:
		if split != "" {
			line = fmt.Sprintf("set-time --bib %s --split %s --at %s", x.Bib, split, tm(some.Add(race.Millis(rng.IntN(4000)))))
		}
	case 5:
		if split != "" {
			line = fmt.Sprintf("use-system --bib %s --split %s --system %s", x.Bib, split, sys)
		}
	case 6:
		if len(st.Strays) > 0 {
			line = fmt.Sprintf("assign-chip --tag %s --bib %s", st.Strays[rng.IntN(len(st.Strays))].Tag, b.bib())
		}
	case 7:
		if len(b.in.Chips) > 0 {
			line = fmt.Sprintf("assign-chip --tag %s --bib %s", b.in.Chips[rng.IntN(len(b.in.Chips))].Tag, b.bib())
			if rng.IntN(2) == 0 {
				line += " --from " + tm(some)
			}
		}
	case 8:
		if len(b.in.Chips) > 0 {
			line = fmt.Sprintf("ignore-chip --tag %s", b.in.Chips[rng.IntN(len(b.in.Chips))].Tag)
		}
	case 9:
		line = fmt.Sprintf("set-status --bib %s --status %s", x.Bib, []string{"dnf", "dns", "dsq", "none"}[rng.IntN(4)])
	case 10:
		line = fmt.Sprintf("void-reads --line %s --from %s --to %s", ln, tm(some), tm(some.Add(race.Millis(1000+rng.IntN(200000)))))
		if rng.IntN(2) == 0 {
			line += " --system " + sys
		}
	case 11:
		line = fmt.Sprintf("witness --bib %s --line %s --at %s", x.Bib, ln, tm(some.Add(race.Millis(rng.IntN(6000)-3000))))
	case 12:
		w := p.Waves[rng.IntN(len(p.Waves))]
		if w.Gun.Known() {
			line = fmt.Sprintf("set-gun --wave %s --at %s", w.ID, tm(w.Gun.Add(race.Millis(rng.IntN(20000)-10000))))
		}
	case 13:
		line = fmt.Sprintf("set-wave --bib %s --wave %s", x.Bib, p.Waves[rng.IntN(len(p.Waves))].ID)
	case 14:
		line = fmt.Sprintf("set-clock --line %s --system %s --offset %+d.%ds", ln, sys, rng.IntN(6)-3, rng.IntN(9))
		if rng.IntN(2) == 0 {
			line += " --from " + tm(some)
		}
	case 15:
		line = fmt.Sprintf("set-clock --line %s --stepped %s --right %s", ln, []string{"main", "backup"}[rng.IntN(2)], []string{"before", "after"}[rng.IntN(2)])
	case 16:
		if rng.IntN(3) == 0 {
			line = "close-course --course " + p.Courses[rng.IntN(len(p.Courses))].ID
		}
	case 17:
		line = fmt.Sprintf("add-athlete --bib %s --wave %s", b.bib(), p.Waves[rng.IntN(len(p.Waves))].ID)
	default:
		if n := len(st.Suspects); n > 0 {
			y := &st.Suspects[rng.IntN(n)]
			line = y.Proposes
			if len(y.Others) > 0 && rng.IntN(2) == 0 {
				line = y.Others[rng.IntN(len(y.Others))]
			}
		}
	}
	if line == "" {
		return
	}
	y, err := ruling.ParseLine(line+" --why tried", p)
	if err != nil {
		return
	}
	if ruling.Check(&y, p, b.in.Athletes, b.in.Rulings, st) != nil {
		return
	}
	y.Seq, y.Made = len(b.in.Rulings)+1, fmt.Sprintf("2026-01-01T00:00:00.%03dZ", len(b.in.Rulings))
	if y.Evidence == "" {
		y.Evidence = reconcile.Shown(st, &y)
	}
	b.in.Rulings = append(slices.Clone(b.in.Rulings), y)
	b.note("%s", line)
}
