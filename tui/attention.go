package tui

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// More notices than this say nothing more than these do.
const noticesKept = 50

// casesNews is the key of the one notice of all new cases that hold results.
const casesNews = "cases"

// attention announces each thing once, in order of what it costs to miss it, and keeps it
// on the screen until somebody has seen it.
type attention struct {
	heard   map[string]bool
	waiting []Notice
	primed  bool // the first snapshot has been taken in: what stood there is no news
}

// raceWide is how loud a kind of suspect is told by itself; false for what costs the times of few.
func raceWide(kind string) (Level, bool) {
	switch race.SuspectKindOf(kind).RaceWide {
	case race.CostsManyNow:
		return Urgent, true
	case race.CostsMany:
		return Needed, true
	}
	return Quiet, false
}

// hear takes what is new in a snapshot.
func (a *attention) hear(m *root, b *book) tea.Cmd {
	before := len(a.waiting)
	urgent := false
	put := func(n Notice) {
		if n.Over {
			a.heard[n.Key] = true
			a.waiting = slices.DeleteFunc(a.waiting, func(w Notice) bool { return w.Key == n.Key })
			return
		}
		if a.heard[n.Key] || n.Says == "" {
			return
		}
		a.heard[n.Key] = true
		if n.Level == Quiet {
			if m.said.text == "" && len(a.waiting) == 0 {
				m.tell(text, "%s", n.Says)
				m.said.news = true
			}
			return
		}
		urgent = urgent || n.Level == Urgent
		a.waiting = append(a.waiting, n)
	}
	for _, n := range b.notices {
		put(n)
	}
	fresh, one := freshCases(b, put)
	for i := range b.health {
		h := &b.health[i]
		if h.Trouble != "" && !h.Missing && h.Source < len(b.Plan.Logs) {
			put(Notice{Key: troubleKey(h), Level: Urgent, Says: about(b.Plan.Logs[h.Source].Path, h.Trouble)})
		}
	}
	if b.pending != "" {
		put(Notice{Key: planWaits + b.pending, Level: Needed, Says: "plan or lists changed and wait for a yes (Y): " + b.pending})
	}
	if len(fresh) > 0 && a.primed {
		a.cases(fresh, one)
	}
	a.withdraw(b)
	if b.State.Plan.Name != "" || len(b.Results) > 0 {
		a.primed = true
	}
	slices.SortStableFunc(a.waiting, func(x, y Notice) int {
		return cmp.Or(cmp.Compare(y.Level, x.Level), cmp.Compare(reading(y), reading(x)))
	})
	a.waiting = a.waiting[:min(len(a.waiting), noticesKept)]
	if len(a.waiting) > 0 && m.said.news {
		m.said = said{}
	}
	if len(a.waiting) > before && urgent && m.o.Bell {
		return ring(os.Stderr)
	}
	return nil
}

// freshCases puts those that cost the times of many, and lists the others that hold results; one
// of them in words.
func freshCases(b *book, put func(Notice)) (fresh []string, one string) {
	for _, i := range b.news {
		s := &b.Suspects[i]
		if l, ok := raceWide(s.Kind); ok {
			put(Notice{Key: s.ID, Level: l, Says: caseNews(s)})
			continue
		}
		if s.Weight == race.Hold {
			if fresh = append(fresh, s.ID); one == "" {
				one = caseNews(s)
			}
		}
	}
	return fresh, one
}

const (
	planWaits = "plan: "
	logFails  = "log "
)

// reading is 1 for what keeps a log from being read now, which comes before what a case tells of
// an hour ago.
func reading(n Notice) int {
	if strings.HasPrefix(n.Key, logFails) {
		return 1
	}
	return 0
}

func troubleKey(h *Health) string { return fmt.Sprint(logFails, h.Source, " ", h.Trouble) }

// about says what is wrong with a log; what names the file needs no name before it.
func about(path, trouble string) string {
	fixed, _, _ := strings.Cut(path, "*")
	if strings.Contains(trouble, fixed) {
		return trouble
	}
	return path + ": " + trouble
}

// withdraw takes back what nobody needs to see any more: cases that were settled or went, a
// plan that waits no longer, a log that is read again. If it comes again, it is told again.
func (a *attention) withdraw(b *book) {
	fails := map[string]bool{}
	for i := range b.health {
		fails[troubleKey(&b.health[i])] = true
	}
	maps.DeleteFunc(a.heard, func(key string, _ bool) bool { return strings.HasPrefix(key, logFails) && !fails[key] })
	a.waiting = slices.DeleteFunc(a.waiting, func(n Notice) bool {
		if what, ours := strings.CutPrefix(n.Key, planWaits); ours {
			if what != b.pending {
				delete(a.heard, n.Key)
			}
			return what != b.pending
		}
		if strings.HasPrefix(n.Key, logFails) {
			return !fails[n.Key]
		}
		if n.Key == casesNews { // later reads clear many that are told while people run
			return n.many == 0 && !slices.ContainsFunc(n.cases, b.isOpen)
		}
		kind, _, _ := strings.Cut(n.Key, ":")
		if _, ours := raceWide(kind); !ours {
			return false
		}
		s := b.suspect(n.Key)
		return s == nil || s.Settled
	})
	for i := range a.waiting {
		n := &a.waiting[i]
		if s := b.suspect(n.Key); s != nil { // what it rests on has grown
			n.Says = caseNews(s)
		}
		if n.Key == casesNews {
			n.Says = casesNow(b, n)
		}
	}
}

// casesNow tells of those that are open now; one that goes may come back.
func casesNow(b *book, n *Notice) string {
	open, one := n.many, ""
	for _, id := range n.cases {
		if b.isOpen(id) {
			open++
			one = id
		}
	}
	if open == 1 && one != "" {
		return newCase + caseNews(b.suspect(one))
	}
	return casesHold(open)
}

// isOpen tells whether a case is there and not settled.
func (b *book) isOpen(id string) bool {
	s := b.suspect(id)
	return s != nil && !s.Settled
}

// caseNews tells a case by its kind and its evidence.
func caseNews(s *race.Suspect) string { return kindWords(s.Kind) + ": " + s.Says }

// opened takes back what a case on the table answers: its own notice, and that there are new
// ones, which whoever opens one at the desk has before them.
func (a *attention) opened(id string) {
	a.waiting = slices.DeleteFunc(a.waiting, func(n Notice) bool { return n.Key == id || n.Key == casesNews })
}

// cases keeps one notice for all new cases that hold results.
func (a *attention) cases(ids []string, one string) {
	for i := range a.waiting {
		n := &a.waiting[i]
		if n.Key != casesNews {
			continue
		}
		n.take(ids)
		n.Says = casesHold(len(n.cases) + n.many)
		return
	}
	says := newCase + one
	if len(ids) > 1 {
		says = casesHold(len(ids))
	}
	n := Notice{Key: casesNews, Level: Needed, Says: says}
	n.take(ids)
	a.waiting = append(a.waiting, n)
}

// take adds cases; none is news twice.
func (n *Notice) take(ids []string) {
	room := min(len(ids), max(casesTold-len(n.cases), 0))
	n.cases = append(n.cases, ids[:room]...)
	n.many += len(ids) - room
}

const (
	newCase   = "new case: "
	casesTold = 500 // so many are looked after one by one
)

func casesHold(n int) string { return fmt.Sprintf("%d new cases hold results", n) }

func (a *attention) first() *Notice {
	if len(a.waiting) == 0 {
		return nil
	}
	return &a.waiting[0]
}

func (a *attention) seen() {
	if len(a.waiting) > 0 {
		a.waiting = a.waiting[1:]
	}
}

// seenAll says that whatever waits has been seen.
func (a *attention) seenAll() { a.waiting = a.waiting[:0] }

// ring rings the terminal's bell beside the renderer: one byte, which no escape sequence
// can be broken by.
func ring(w io.Writer) tea.Cmd {
	return func() tea.Msg {
		if _, err := w.Write([]byte{7}); err != nil {
			return nil // a terminal without a bell is no trouble
		}
		return nil
	}
}
