package tui

import (
	"fmt"
	"math"
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// systems shows whether every system at every line is reading: a row each.
type systems struct {
	*sight
	t     table
	rates rates
	asked bool // the rates are being counted
}

// rates are reads a minute per source, counted away from the program's loop when the
// inputs changed and this screen is shown.
type rates struct {
	of    []*race.Reads
	from  race.Instant // of the first minute
	count [][]int      // per source and minute
}

// Longer than any race is watched minute by minute.
const minutesKept = 36 * 60

type ratesAnswer struct{ rates }

func (a ratesAnswer) deliver(m *root) tea.Cmd {
	for _, s := range m.screens {
		if y, ok := s.(*systems); ok {
			y.rates, y.asked = a.rates, false
		}
	}
	return nil
}

func newSystems(s *sight) *systems {
	return &systems{sight: s, t: table{cols: []column{
		{head: "line", w: 9}, {head: "system", w: 6}, {head: "last read", w: 9, right: true}, {head: "reads a minute", w: 14, stretch: true},
		{head: "now", w: 5, drop: 1, right: true}, {head: "reads", w: 8, drop: 4, right: true}, {head: "chips", w: 6, drop: 6, right: true},
		{head: "passings", w: 8, drop: 5, right: true}, {head: "share", w: 6, drop: 2, right: true}, {head: "both miss", w: 9, drop: 3, right: true},
		{head: "bad", w: 5, drop: 2, right: true}, {head: "repeated", w: 8, drop: 7, right: true},
	}}}
}

func (y *systems) name() string            { return "systems" }
func (y *systems) scope() scope            { return onSystems }
func (y *systems) list() (*table, listing) { return &y.t, y }
func (y *systems) Len() int                { return len(y.book.Systems) }
func (y *systems) sync()                   { y.t.sync(y) }
func (y *systems) ID(i int) string {
	return fmt.Sprint(y.book.Systems[i].Line, "/", y.book.Systems[i].System)
}

// recount asks for the rates when the inputs are other ones than those counted.
func (y *systems) recount(m *root) tea.Cmd {
	if y.asked || len(y.book.Inputs) == 0 || sameInputs(y.rates.of, y.book.Inputs) {
		return nil
	}
	y.asked = true
	s, had := y.book.State, y.rates
	return m.guarded(func() tea.Msg { return ratesAnswer{countRates(s, had)} })
}

func sameInputs(a, b []*race.Reads) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// countRates counts reads per minute of the race clock; a log that hasn't changed since
// had keeps its counts.
func countRates(s *race.State, had rates) rates {
	out := rates{of: s.Inputs, from: race.NoInstant, count: make([][]int, len(s.Inputs))}
	last := s.Now
	if !last.Known() {
		return out
	}
	out.from = had.from
	if !out.from.Known() || len(had.count) != len(s.Inputs) || last.Sub(out.from) > minutesKept*60000 {
		out.from = last - last%60000 - (minutesKept/2)*60000
		had = rates{}
	}
	n := int(last.Sub(out.from)/60000) + 2
	for i, in := range s.Inputs {
		if in == nil {
			continue
		}
		if i < len(had.of) && had.of[i] == in && had.count != nil {
			out.count[i] = append(had.count[i][:len(had.count[i]):len(had.count[i])], make([]int, max(n-len(had.count[i]), 0))...)
			continue
		}
		c, off := make([]int, n), ahead(s, i, out.from, n)
		for t := range in.Tags.All() {
			for _, r := range t.Reads {
				if m := minuteOf(r.At, out.from, off); m >= 0 && m < n {
					c[m]++
				}
			}
		}
		out.count[i] = c
	}
	return out
}

// ahead is how far a log's clock is ahead of the race clock at each of n minutes.
func ahead(s *race.State, source int, from race.Instant, n int) []race.Millis {
	out := make([]race.Millis, n)
	for m := range out {
		t := from.Add(race.Millis(m) * 60000)
		out[m] = s.Own(source, t).Sub(t)
	}
	return out
}

// minuteOf is the minute of the race clock in which a log's clock showed at: of where the clock
// stands at the end, then of where it stood in the minute that this gives.
func minuteOf(at, from race.Instant, ahead []race.Millis) int {
	m := len(ahead) - 1
	for range 3 {
		now := at.Add(-ahead[min(max(m, 0), len(ahead)-1)]).Sub(from)
		next := int(math.Floor(float64(now) / 60000))
		if next == m {
			break
		}
		m = next
	}
	return m
}

// perMinute are the counts of a row's logs over the last n minutes.
func (y *systems) perMinute(s *race.SystemRow, n int) []int {
	out := make([]int, n)
	if !y.rates.from.Known() || !y.book.Now.Known() {
		return out
	}
	end := int(y.book.Now.Sub(y.rates.from)/60000) + 1
	for _, src := range s.Sources {
		if src >= len(y.rates.count) {
			continue
		}
		for k := range out {
			if m := end - n + k; m >= 0 && m < len(y.rates.count[src]) {
				out[k] += y.rates.count[src][m]
			}
		}
	}
	return out
}

func sparkline(l *look, v []int) string {
	top := 0
	for _, n := range v {
		top = max(top, n)
	}
	var b strings.Builder
	for _, n := range v {
		k := 0
		if n > 0 {
			k = 1 + n*(len(l.spark)-2)/top
		}
		b.WriteString(l.spark[k])
	}
	return b.String()
}

// healthOf is the worst of a row's logs.
func (y *systems) healthOf(s *race.SystemRow) *Health {
	var worst *Health
	for i := range y.book.health {
		h := &y.book.health[i]
		for _, src := range s.Sources {
			if h.Source == src && (worst == nil || h.Trouble != "" || h.Missing && worst.Trouble == "") {
				worst = h
			}
		}
	}
	return worst
}

func (y *systems) Mark(l *look, i int) (ink, string) {
	s := &y.book.Systems[i]
	h := y.healthOf(s)
	switch {
	case h != nil && h.Trouble != "":
		return bad, l.warn
	case h != nil && h.Missing:
		return warn, l.none
	case s.Reads == 0:
		return muted, l.none
	}
	return good, l.ok
}

func (y *systems) Cell(i, col int) (ink, string) {
	s := &y.book.Systems[i]
	switch col {
	case 0:
		return strong, lineID(y.book, s.Line)
	case 1:
		return text, s.System.String()
	case 2:
		return y.lastRead(s)
	case 3:
		ws := y.t.cols[3].w
		if y.t.wide > 0 {
			ws = y.t.wide
		}
		return accent, sparkline(y.look, y.perMinute(s, min(ws, 90)))
	case 4:
		return text, fmt.Sprint(y.perMinute(s, 2)[0])
	case 5:
		return text, fmt.Sprint(s.Reads)
	case 6:
		return muted, fmt.Sprint(s.Tags)
	case 7:
		return text, fmt.Sprint(s.Passings)
	case 8:
		if math.IsNaN(s.SeenOfAll) {
			return muted, "-"
		}
		k := text
		if s.SeenOfAll < 0.95 {
			k = warn
		}
		return k, fmt.Sprintf("%.1f%%", 100*s.SeenOfAll)
	case 9:
		if math.IsNaN(s.MissedByAll) {
			return muted, "-"
		}
		return text, fmt.Sprintf("%.1f", s.MissedByAll)
	case 10:
		if s.BadLines > 0 {
			return warn, fmt.Sprint(s.BadLines)
		}
		return muted, "0"
	}
	return muted, fmt.Sprint(s.Repeated)
}

// lastRead is how long ago reads came by this laptop's clock, else when it last read.
func (y *systems) lastRead(s *race.SystemRow) (ink, string) {
	var grew time.Time
	for i := range y.book.health {
		for _, src := range s.Sources {
			if h := &y.book.health[i]; h.Source == src && h.Grew.After(grew) {
				grew = h.Grew
			}
		}
	}
	if !grew.IsZero() && !y.book.past {
		return text, ago(y.now.Sub(grew))
	}
	if s.Last.Known() {
		return muted, clockOf(y.book.State, s.Last)
	}
	return muted, "never"
}

// ago writes how long ago something was.
func ago(d time.Duration) string {
	switch {
	case d < 0:
		return "now"
	case d < 100*time.Second:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < 100*time.Minute:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}

func (y *systems) View(w, h int) string {
	p := newPage(y.look, w, h)
	if y.Len() == 0 {
		p.say(muted, "no system has been read yet")
		return p.String()
	}
	ws := fit(y.t.cols, w)
	y.t.wide = ws[3]
	rest := min(y.Len()+1, max(h*3/5, 4))
	y.t.draw(p, y, rest)
	p.line()
	y.sums(p)
	p.line()
	y.detail(p)
	return p.String()
}

// sums shows that nothing vanished: both laws with their parts.
func (y *systems) sums(p *page) {
	s := y.book.Sums
	y.law(p, "lines", s.Lines, []part{{"reads", s.Kept}, {"repeated", s.Repeated}, {"bad", s.Bad}, {"waiting", s.Waiting}})
	y.law(p, "reads", s.Kept, []part{{"in passings", s.InPassings}, {"nobody's", s.Unassigned}, {"ignored chips", s.Ignored},
		{"voided", s.Voided}, {"of other places", s.Elsewhere}, {"twin logs", s.TwinLog}})
}

type part struct {
	name string
	n    int
}

func (y *systems) law(p *page, name string, n int, parts []part) {
	sum := 0
	for _, q := range parts {
		sum += q.n
	}
	r := p.line()
	if sum == n { // before the sum: a narrow screen cuts the end off
		r.put(good, p.look.ok+" ")
	} else {
		r.put(bad, fmt.Sprintf("%s off by %d: ", p.look.warn, n-sum))
	}
	r.put(text, fmt.Sprintf("%d %s =", n, name))
	for i, q := range parts {
		if q.n == 0 && i > 0 {
			continue
		}
		if i > 0 {
			r.put(text, " +")
		}
		r.put(text, fmt.Sprintf(" %d %s", q.n, q.name))
	}
	if said := ": the sum is right"; sum == n && r.left() >= len(said) {
		r.put(good, said)
	}
}

// detail tells of the selected system: its files, its trouble, its bad lines.
func (y *systems) detail(p *page) {
	if y.t.at >= y.Len() {
		return
	}
	s := &y.book.Systems[y.t.at]
	p.line().put(head, lineID(y.book, s.Line)+" "+s.System.String())
	if s.MissedSays != "" {
		p.prose(muted, s.MissedSays, 4)
	}
	for i := range y.book.health {
		h := &y.book.health[i]
		for _, src := range s.Sources {
			if h.Source == src && p.left() > 0 {
				y.told(p, h)
			}
		}
	}
	for _, src := range s.Sources {
		if src >= len(y.book.Inputs) || y.book.Inputs[src] == nil {
			continue
		}
		in := y.book.Inputs[src]
		for _, b := range in.Bad {
			if p.left() == 0 {
				return
			}
			file := "?"
			if b.File < len(in.Files) {
				file = in.Files[b.File].Path
			}
			p.line().put(warn, fmt.Sprintf("%s:%d ", file, b.Line)).put(text, b.Why+" ").put(muted, b.Text)
		}
	}
}

func (y *systems) told(p *page, h *Health) {
	path := "?"
	if h.Source < len(y.book.Plan.Logs) {
		path = y.book.Plan.Logs[h.Source].Path
	}
	switch {
	case h.Trouble != "":
		p.prose(bad, p.look.warn+" "+about(path, h.Trouble), 3)
	case h.Missing:
		p.line().put(warn, p.look.none+" "+path+" isn't there yet")
	case h.Waiting > 0:
		p.line().put(muted, fmt.Sprintf("%s: a half line of %d bytes waits for its end", path, h.Waiting))
	default:
		p.line().put(muted, path)
	}
}
