package tui

import (
	"fmt"
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	records "twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// story is one athlete's race: an overlay on whatever screen asked for it.
type story struct {
	*sight
	who     string
	at      int // passing under the cursor
	top     int // first line in sight
	explain []string
	asked   int
	of      toldOf // what explain was asked upon
	page    int
	long    int // lines of the whole story when last drawn
}

// telling draws a story; the Athletes screen shows it beside the list too.
type telling struct {
	*sight
	r       *race.Result
	at      int // passing under the cursor, -1: none
	explain []string
}

func (m *root) openStory(bib string) tea.Cmd {
	if m.sight.book.result(bib) == nil {
		m.tell(warn, "no athlete has bib %s", bib)
		return nil
	}
	s := &story{sight: m.sight, who: bib}
	m.push(s)
	return s.explainAgain(m)
}

func (s *story) scope() scope { return inStory }
func (s *story) bib() string  { return s.who }
func (s *story) sync()        {}

// passing is the one under the cursor, nil for none.
func (s *story) passing() *race.Passing {
	r := s.book.result(s.who)
	if r == nil || s.at < 0 || s.at >= len(r.Passings) {
		return nil
	}
	return &r.Passings[s.at]
}

func (s *story) move(by int) {
	if r := s.book.result(s.who); r != nil {
		s.at = max(min(s.at+by, len(r.Passings)-1), 0)
	}
}

func (s *story) scroll(by int) { s.top = max(min(s.top+by, s.long-s.page), 0) }

func (s *story) View(w, h int) string {
	r := s.book.result(s.who)
	p := newPage(s.look, w, h)
	if r == nil {
		p.say(warn, "bib "+s.who+" is no longer on the list")
		return p.String()
	}
	t := telling{sight: s.sight, r: r, at: s.at, explain: s.explain}
	whole := newPage(s.look, w, 2000)
	t.draw(whole)
	whole.close()
	s.long, s.page = len(whole.lines), h
	s.top = max(min(s.top, s.long-h), 0)
	more := s.long - s.top - h
	if more <= 0 || h < 4 {
		p.add(whole.lines[s.top:min(s.top+h, s.long)])
		return p.String()
	}
	p.add(whole.lines[s.top : s.top+h-1])
	p.say(muted, fmt.Sprintf("%s %s: page down", s.look.down, race.Counted(more+1, "more line", "more lines")))
	return p.String()
}

func (t *telling) draw(p *page) {
	who(p, t.book, t.r)
	t.standing(p)
	p.line()
	t.splits(p)
	t.others(p)
	if t.at >= 0 && t.at < len(t.r.Passings) {
		p.line()
		t.burst(p, &t.r.Passings[t.at])
	}
	t.cases(p)
	t.rulings(p)
	if len(t.explain) > 0 && p.left() > 2 {
		p.line()
		p.say(head, "how these times came about")
		for _, l := range t.explain {
			p.prose(text, l, p.left())
		}
	}
}

var splitCols = []column{
	{head: "split", w: 9}, {head: "metres", w: 7, drop: 5, right: true}, {head: "main", w: 12}, {head: "backup", w: 12}, {head: "hand", w: 8, drop: 7},
	{head: "b-m", w: 7, drop: 3, right: true}, {head: "time", w: 9, right: true}, {head: "from", w: 6}, {head: "±s", w: 5, drop: 4, right: true},
	{head: "pace", w: 11, drop: 1, right: true}, {head: "against own average", w: 20, drop: 2, stretch: true},
}

// splits writes each split with what each system saw, side by side, and the pace of the
// stretch that ends there.
func (t *telling) splits(p *page) {
	ws := fit(splitCols, p.w)
	(&table{cols: splitCols}).heads(p, ws)
	own := t.ownSpeed()
	for i := range t.r.Splits {
		if p.left() == 0 {
			return
		}
		k := -1
		if i < len(t.r.Filled) {
			k = t.r.Filled[i]
		}
		r := p.line()
		if k >= 0 && k == t.at {
			r.put(accent, t.look.pick).gap(1)
		} else {
			r.gap(2)
		}
		t.split(r, ws, i, k, own)
	}
}

func (t *telling) split(r *row, ws []int, i, k int, own float64) {
	s := &t.r.Splits[i]
	r.cell(strong, s.ID, ws[0]).gap(1)
	col := func(n int, k ink, v string) {
		if ws[n] == 0 {
			return
		}
		if splitCols[n].right {
			r.right(k, v, ws[n]).gap(1)
			return
		}
		r.cell(k, v, ws[n]).gap(1)
	}
	col(1, muted, fmt.Sprintf("%.0f", s.At))
	if k < 0 || k >= len(t.r.Passings) {
		r.put(muted, t.lacking(i))
		return
	}
	q := &t.r.Passings[k]
	for n, sys := range []race.System{race.Main, race.Backup, race.Hand} {
		v, c := t.seenAs(q, sys)
		col(2+n, c, v)
	}
	gap := ""
	if q.Bursts[race.Main] != nil && q.Bursts[race.Backup] != nil {
		if d := q.Seen[race.Backup].Sub(q.Seen[race.Main]); d.Known() {
			gap = fmt.Sprintf("%+.2f", d.Seconds())
		}
	}
	col(5, muted, gap)
	col(6, text, whole(q.At.Sub(t.book.Began(t.r))))
	col(7, fromInk(q.From), q.From.String())
	col(8, muted, seconds(q.PlusMinus))
	if v := t.speed(i); v > 0 {
		col(9, text, pace(s.Sport, v))
		if ws[10] > 0 && own > 0 {
			r.put(accent, bar(t.look, v/own, min(ws[10]-5, 24)))
			r.put(muted, fmt.Sprintf(" %3.0f%%", 100*v/own))
			t.ceiling(r, i, v)
		}
	}
}

// seenAs is when a system saw a passing; strong where its time is the one kept.
func (t *telling) seenAs(q *race.Passing, sys race.System) (string, ink) {
	if !q.Seen[sys].Known() || q.Bursts[sys] == nil {
		return "-", muted
	}
	v := q.Seen[sys].Time(t.book.Plan.Zone).Format("15:04:05.000")
	if sys == race.Hand {
		v = v[:8]
	}
	switch {
	case q.Unsure(sys) != "":
		return v, warn
	case race.FromSystem(sys) == q.From:
		return v, strong
	}
	return v, text
}

// lacking says why nothing stands at a split: whoever is on the way hasn't come so far.
func (t *telling) lacking(i int) string {
	last, _ := t.r.Reached()
	switch {
	case t.r.State == race.Running && i > last:
		return "not yet"
	case t.r.Splits[i].Required || t.r.Splits[i].Lap > 0 || i == len(t.r.Splits)-1: // a missing lap holds
		return "not seen"
	}
	return "not seen (not required)"
}

// ceiling puts the fastest known pace over the stretch beside the athlete's, where there is
// room.
func (t *telling) ceiling(r *row, i int, v float64) {
	s := &t.r.Splits[i]
	top := records.Ceiling(s.Sport, s.At-t.r.Splits[t.before(i)].At)
	switch says := "  fastest known " + pace(s.Sport, top); {
	case top <= 0 || r.left() <= len(says):
	case v > top:
		r.put(bad, says)
	default:
		r.put(muted, says)
	}
}

// before is the last filled split before i, -1 for none.
func (t *telling) before(i int) int {
	for i--; i >= 0; i-- {
		if i < len(t.r.Filled) && t.r.Filled[i] >= 0 {
			return i
		}
	}
	return -1
}

// speed is that of the stretch that ends at split i, in metres a second; 0: unknown.
func (t *telling) speed(i int) float64 {
	j := t.before(i)
	if j < 0 || t.r.Filled[i] >= len(t.r.Passings) || t.r.Filled[j] >= len(t.r.Passings) {
		return 0
	}
	d := t.r.Passings[t.r.Filled[i]].At.Sub(t.r.Passings[t.r.Filled[j]].At)
	if !d.Known() || d <= 0 {
		return 0
	}
	return (t.r.Splits[i].At - t.r.Splits[j].At) / d.Seconds()
}

// ownSpeed is the median of the stretches: one bad time doesn't move it.
func (t *telling) ownSpeed() float64 {
	var vs []float64
	for i := range t.r.Splits {
		if i < len(t.r.Filled) && t.r.Filled[i] >= 0 {
			if v := t.speed(i); v > 0 {
				vs = append(vs, v)
			}
		}
	}
	if len(vs) == 0 {
		return 0
	}
	slices.Sort(vs)
	return vs[len(vs)/2]
}

// pace writes a speed as the sport says it.
func pace(sport string, v float64) string {
	switch sport {
	case "bike", "kart", "ski":
		return fmt.Sprintf("%.1f km/h", v*3.6)
	case "swim":
		s := 100 / v
		return fmt.Sprintf("%d:%02.0f/100m", int(s)/60, s-float64(int(s)/60*60))
	}
	s := 1000 / v
	if s > 5999 {
		return fmt.Sprintf("%.1f km/h", v*3.6)
	}
	n := int(s + 0.5)
	return fmt.Sprintf("%d:%02d /km", n/60, n%60)
}

// bar draws a share of 1 so that 1 is in the middle.
func bar(l *look, share float64, n int) string {
	k := int(share*float64(n)/2 + 0.5)
	return strings.Repeat(l.spark[len(l.spark)-1], max(min(k, n), 1))
}

// others lists the passings that fill no split, with what became of them.
func (t *telling) others(p *page) {
	first := true
	for i := range t.r.Passings {
		q := &t.r.Passings[i]
		if q.Fate == race.InSplit && q.Split >= 0 || p.left() == 0 {
			continue
		}
		if first {
			p.say(head, "passings in no split")
			first = false
		}
		r := p.line()
		if i == t.at {
			r.put(accent, t.look.pick).gap(1)
		} else {
			r.gap(2)
		}
		r.cell(text, lineID(t.book, q.Line), 10).gap(1).put(text, clockOf(t.book.State, q.At)).gap(2).put(warn, q.Fate.String())
	}
}

func (t *telling) cases(p *page) {
	k, ok := t.book.ByBib[t.r.Bib]
	if !ok {
		return
	}
	first := true
	for _, i := range t.book.about(k) {
		s := &t.book.Suspects[i]
		if p.left() == 0 {
			return
		}
		if first {
			p.line()
			p.say(head, "cases")
			first = false
		}
		k, sign, word := weightOf(t.look, s)
		p.line().put(k, sign+" "+word+" ").put(strong, kindWords(s.Kind)).gap(1).put(text, s.Says)
	}
}

func (t *telling) rulings(p *page) {
	if len(t.r.Rulings) == 0 || p.left() < 2 {
		return
	}
	p.line()
	p.say(head, "rulings")
	for _, n := range t.r.Rulings {
		u := t.book.ruling(n)
		if u == nil || p.left() == 0 {
			continue
		}
		r := p.line()
		if by, undone := t.book.Undone[n]; undone {
			r.put(muted, fmt.Sprintf("%s %d %s: %s (undone by %d)", t.look.undone, n, u.Rule, u.Why, by))
			continue
		}
		r.put(strong, fmt.Sprintf("  %d ", n)).put(text, u.Rule+" ").put(muted, u.Why)
	}
}
