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

// strange are the tags nobody owns whose code holds what is searched for.
func (b *book) strange(query string) []*race.StrayTag {
	q := race.CanonicalTag(query)
	if len(q) < strangerEnd {
		return nil
	}
	var out []*race.StrayTag
	for i := range b.Strays {
		tag := race.CanonicalTag(b.Strays[i].Tag)
		if strings.HasSuffix(tag, q) || len(q) >= strangerPart && strings.Contains(tag, q) {
			out = append(out, &b.Strays[i])
		}
	}
	return out
}

// strangers tells of the chips that are searched for and are nobody's.
func (a *athletes) strangers(p *page) {
	for i, t := range a.book.strange(a.query) {
		if i == strangersTop {
			return
		}
		says := fmt.Sprintf("chip %s is nobody's: %s, the last at %s", t.Tag, plural(t.Reads, "read", "reads"), clockOf(a.book.State, t.Last))
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
	for _, t := range s.book.strange(s.a.query) {
		if x := s.book.suspect(strayCase(t)); x != nil && !x.Settled {
			return x.ID
		}
		return ""
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
