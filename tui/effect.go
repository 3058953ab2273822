package tui

import (
	"fmt"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// An effect is what differs between two snapshots, as far as a person wants to know it.
type effect struct {
	changes []change // those concerned first, then in order of bib
	moved   int      // others of whom only the rank moves
	nudged  int      // others of whom only fills move, by less than trifle
	more    int      // whose changes aren't kept, beyond changesKept
	lose    int      // who had an official time and have none after
	settles string   // cases, in words
	opens   string
}

// A change is one athlete's before and after.
type change struct {
	bib, name string
	rows      []what
}

type what struct{ what, before, after string }

// As many athletes as anybody reads; the rest are counted.
const changesKept = 200

// compare lists what after changes in before.
func compare(before, after *race.State, first []string) effect {
	var e effect
	for i := range after.Results {
		a := after.Results[i]
		var b *race.Result
		ranked, ranks := race.Ranks{}, after.Ranks[i]
		if k, ok := before.ByBib[a.Bib]; ok {
			b, ranked = before.Results[k], before.Ranks[k]
		}
		if b != nil && ranked == ranks && same(b, a) {
			continue
		}
		c, rankOnly := changed(before, after, b, a)
		switch {
		case len(c.rows) == 0:
		case b != nil && ranked == ranks && trifling(b, a) && !slices.Contains(first, a.Bib):
			e.nudged++
		case rankOnly && !slices.Contains(first, a.Bib):
			e.moved++
		case len(e.changes) < changesKept || slices.Contains(first, a.Bib):
			e.changes = append(e.changes, c)
		default:
			e.more++
		}
		if b != nil && b.Official.Known() && !a.Official.Known() {
			e.lose++
		}
	}
	slices.SortStableFunc(e.changes, func(x, y change) int {
		return rankIn(first, x.bib) - rankIn(first, y.bib)
	})
	settles, opens := suspectsMoved(before, after)
	e.settles, e.opens = casesWords(settles), casesWords(opens)
	return e
}

// A clock fitted to other pairs moves every fill that rests on it; below this it is
// counted, not listed.
const trifle = 20 // milliseconds

// trifling tells of two results with the same ranks whether nothing but passings moved, and those by next to nothing.
func trifling(a, b *race.Result) bool {
	if a.State != b.State || a.Official != b.Official || a.From != b.From || a.Wave != b.Wave || a.Name != b.Name ||
		len(a.Passings) != len(b.Passings) || !slices.Equal(a.Filled, b.Filled) {
		return false
	}
	for i := range a.Passings {
		x, y := &a.Passings[i], &b.Passings[i]
		if d := y.At.Sub(x.At); x.From != y.From || d.Known() && (d > trifle || d < -trifle) {
			return false
		}
	}
	return true
}

func rankIn(first []string, bib string) int {
	if i := slices.Index(first, bib); i >= 0 {
		return i
	}
	return len(first)
}

// same is the quick look, but for ranks: most athletes don't change.
func same(a, b *race.Result) bool {
	return a == b || a.State == b.State && a.FinishAt == b.FinishAt && a.Official == b.Official && a.From == b.From && a.Wave == b.Wave && a.Name == b.Name &&
		a.StartAt == b.StartAt && a.Gun == b.Gun && len(a.Passings) == len(b.Passings) && slices.Equal(a.Filled, b.Filled) && sameSplits(a, b)
}

func sameSplits(a, b *race.Result) bool {
	for i := range a.Passings {
		if a.Passings[i].At != b.Passings[i].At || a.Passings[i].From != b.Passings[i].From {
			return false
		}
	}
	return true
}

// changed lists one athlete's differences; only tells whether it is ranks alone.
func changed(sb, sa *race.State, b, a *race.Result) (c change, rankOnly bool) {
	c = change{bib: a.Bib, name: a.Name}
	none := race.Result{Finish: -1, FinishAt: race.NoInstant, Official: race.NoMillis, GunTime: race.NoMillis, NetTime: race.NoMillis, State: "not listed"}
	if b == nil {
		b = &none
	}
	put := func(name, x, y string) {
		if x != y {
			c.rows = append(c.rows, what{name, orDash(x), orDash(y)})
		}
	}
	put("state", b.State, a.State)
	put("official", span(b.Official), span(a.Official))
	n := len(c.rows)
	put("rank", rankWords(b, sb.RanksOf(b)), rankWords(a, sa.RanksOf(a)))
	rankRows := len(c.rows) - n
	for i := range a.Splits {
		x := splitAt(b, a.Splits[i].ID)
		y := splitAt(a, a.Splits[i].ID)
		put(a.Splits[i].ID, passingWords(sb, x), passingWords(sa, y))
	}
	put("wave", waveName(sb, b), waveName(sa, a))
	put("name", b.Name, a.Name)
	return c, len(c.rows) == rankRows
}

// splitAt is the passing that fills a split, nil for none.
func splitAt(r *race.Result, id string) *race.Passing {
	for i := range r.Splits {
		if r.Splits[i].ID == id && i < len(r.Filled) && r.Filled[i] >= 0 && r.Filled[i] < len(r.Passings) {
			return &r.Passings[r.Filled[i]]
		}
	}
	return nil
}

func passingWords(s *race.State, p *race.Passing) string {
	if p == nil {
		return ""
	}
	return p.At.Time(s.Plan.Zone).Format("15:04:05.000") + " " + p.From.String()
}

func waveName(s *race.State, r *race.Result) string {
	if r.Bib == "" || r.Wave < 0 || r.Wave >= len(s.Plan.Waves) {
		return ""
	}
	return s.Plan.Waves[r.Wave].ID
}

func rankWords(r *race.Result, ranks race.Ranks) string {
	if ranks.All == 0 {
		return ""
	}
	s := fmt.Sprint(ranks.All)
	if ranks.Sex > 0 {
		s += fmt.Sprintf(" (%s %d)", r.Sex, ranks.Sex)
	}
	return s
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// suspectsMoved are the ids that a ruling settles or makes go away, and those it opens.
func suspectsMoved(before, after *race.State) (settles, opens []string) {
	open := map[string]bool{}
	for i := range before.Suspects {
		if s := &before.Suspects[i]; !s.Settled {
			open[s.ID] = true
		}
	}
	still := map[string]bool{}
	for i := range after.Suspects {
		if s := &after.Suspects[i]; !s.Settled {
			still[s.ID] = true
			if !open[s.ID] {
				opens = append(opens, s.ID)
			}
		}
	}
	for i := range before.Suspects {
		if s := &before.Suspects[i]; !s.Settled && !still[s.ID] {
			settles = append(settles, s.ID)
		}
	}
	return settles, opens
}

// draw writes the effect in at most limit lines.
func (e *effect) draw(p *page, limit int) {
	end := len(p.lines) + limit
	if p.open {
		end++
	}
	room := func() int { return min(end-p.written(), p.left()) }
	rest := e.after() // what it settles and opens is said however many change
	if len(e.changes) == 0 && e.moved == 0 && e.nudged == 0 {
		p.say(muted, "no time, rank or state changes")
	}
	if e.lose > 1 { // a ruling on many is seldom meant so
		p.say(bad, fmt.Sprintf("%s %d athletes lose their official time", p.look.warn, e.lose))
	}
	for i, c := range e.changes {
		if room()-rest < 3 && i > 0 {
			p.say(muted, "… and "+race.Counted(len(e.changes)-i+e.more, "more athlete", "more athletes"))
			break
		}
		p.line().put(strong, c.bib+" ").put(text, c.name)
		each := max((room()-rest-3)/max(min(len(e.changes)-i, 2), 1), 2) // two concerned share the room
		for k, w := range c.rows {
			if i+k > 0 && k < len(c.rows)-1 && (k >= each || room()-rest < min(len(e.changes)-i, 2)+1) { // the count of the others keeps its line
				p.say(muted, "  "+race.Counted(len(c.rows)-k, "more change", "more changes")+" for this athlete")
				break
			}
			r := p.line()
			r.gap(2).cell(muted, w.what, 9).gap(1).cell(text, w.before, 20).put(muted, " "+p.look.arrow+" ").put(strong, w.after)
		}
	}
	if e.moved > 0 && room() > 0 {
		p.say(muted, race.Counted(e.moved, "other athlete moves", "other athletes move")+" in rank alone")
	}
	if e.nudged > 0 && room() > 0 {
		p.say(muted, race.Counted(e.nudged, "athlete's fills move", "athletes' fills move")+" by a few thousandths")
	}
	if e.settles != "" && room() > 0 {
		p.prose(good, p.look.ok+" settles "+e.settles, min(room(), 2))
	}
	if e.opens != "" && room() > 0 {
		p.prose(warn, p.look.warn+" opens "+e.opens, min(room(), 2))
	}
}

// after is how many lines follow those of who changes.
func (e *effect) after() int {
	n := 0
	for _, follows := range []bool{e.moved > 0, e.nudged > 0, e.settles != "", e.opens != ""} {
		if follows {
			n++
		}
	}
	return n
}

func (p *page) written() int {
	if p.open {
		return len(p.lines) + 1
	}
	return len(p.lines)
}

// wordsOf is a ruling in words, with a case named as the screens name it.
func wordsOf(d Desk, r race.Ruling) string {
	s := d.Words(r)
	if r.Suspect == "" {
		return s
	}
	return strings.ReplaceAll(s, r.Suspect, casesWords([]string{r.Suspect}))
}

// casesWords names cases by their ids, those of one kind together.
func casesWords(ids []string) string {
	var kinds []string
	of := map[string][]string{}
	for _, id := range ids {
		kind, rest, _ := strings.Cut(id, ":")
		if of[kind] == nil {
			kinds = append(kinds, kind)
		}
		who, where, _ := strings.Cut(rest, ":")
		if _, ours := raceWide(kind); ours || where == "" {
			who = strings.ReplaceAll(rest, "@", " at ") // its colon is one of a time of day
		} else {
			who += " at " + strings.ReplaceAll(where, "@", " at ")
		}
		of[kind] = append(of[kind], who)
	}
	for i, k := range kinds {
		kinds[i] = strings.TrimSpace(kindWords(k) + " " + listed(of[k], 3))
	}
	return strings.Join(kinds, "; ")
}

// listed names the first n of a list and counts the rest.
func listed(l []string, n int) string { return listedOf(l, len(l), n) }

// listedOf is the same where l has only the first of so many.
func listedOf(l []string, of, n int) string {
	out := ""
	for i, s := range l {
		if i == n {
			return out + fmt.Sprintf(" and %d more", of-n)
		}
		if i > 0 {
			out += ", "
		}
		out += s
	}
	return out
}

// span writes a length of time as people read it: h:mm:ss, thousandths only where there are any.
func span(d race.Millis) string {
	if !d.Known() {
		return ""
	}
	s := d.String()
	if d%1000 == 0 {
		s = s[:len(s)-4]
	}
	return s
}
