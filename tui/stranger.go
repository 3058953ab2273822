package tui

import (
	"fmt"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// A chip that nobody owns has no athlete to be found by; who stands there with it in their hand is
// asked for by its code all the same.

const (
	strangerEnd  = 3 // letters that mean a code at its end, as people read it out
	strangerPart = 4 // and anywhere in it
	strangersTop = 2 // so many are told, as many as there is room for beside who was found
)

// strays are the tags nobody owns that a search found, kept from frame to frame.
type strays struct {
	of   *race.State
	q    string
	tags []*race.StrayTag
}

// strange are the tags nobody owns whose code holds what is searched for.
func (a *athletes) strange() []*race.StrayTag {
	q := race.CanonicalTag(a.query)
	if a.strays.of == a.book.State && a.strays.q == q {
		return a.strays.tags
	}
	a.strays = strays{of: a.book.State, q: q}
	if len(q) < strangerEnd {
		return nil
	}
	all := a.book.Strays
	for i := range all {
		tag := race.CanonicalTag(all[i].Tag)
		if strings.HasSuffix(tag, q) || len(q) >= strangerPart && strings.Contains(tag, q) {
			a.strays.tags = append(a.strays.tags, &all[i])
		}
	}
	return a.strays.tags
}

// strangers tells of the chips that are searched for and are nobody's.
func (a *athletes) strangers(p *page) {
	for i, t := range a.strange() {
		if i == strangersTop {
			return
		}
		says := fmt.Sprintf("chip %s is nobody's: %s, the last at %s", t.Tag, race.Counted(t.Reads, "read", "reads"), clockOf(a.book.State, t.Last))
		s := a.book.suspect(strayCase(t))
		switch {
		case t.Ignored:
			says += "; ignored by a ruling"
		case s == nil || s.Settled:
		case a.Len() == 0 && i == 0:
			says += "; enter puts its case on the table"
		default:
			says += "; its case is on the desk"
		}
		p.prose(warn, says, 2)
	}
}

func strayCase(t *race.StrayTag) string { return race.UnassignedChip + ":" + t.Tag }

// found is the case of the first chip found where no athlete was, "" : none.
func (s *search) found() string {
	if s.a.Len() > 0 {
		return ""
	}
	if tags := s.a.strange(); len(tags) > 0 {
		if x := s.book.suspect(strayCase(tags[0])); x != nil && !x.Settled {
			return x.ID
		}
	}
	return ""
}

func needsFound(m *root) string {
	if s, ok := m.top().(*search); ok && s.found() != "" {
		return ""
	}
	return needsBib(m)
}

// openFound opens the story of the athlete under the cursor, or the case of a chip that is nobody's.
func (m *root) openFound() tea.Cmd {
	s := m.top().(*search)
	bib, id := s.bib(), s.found()
	m.pop()
	if bib == "" && id != "" {
		s.a.find("") // there is nobody in that list
		return m.openSettle(id, false)
	}
	return m.openStory(bib)
}
