package tui

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// help lists every action that is live where it was asked for, then all the others.
type help struct {
	*sight
	under scope
	top   int
	long  int
	page  int
}

func (h *help) scope() scope  { return inHelp }
func (h *help) sync()         {}
func (h *help) scroll(by int) { h.top = max(min(h.top+by, h.long-h.page), 0) }

func (h *help) View(w, n int) string {
	all := newPage(h.look, w, 400)
	all.line().put(strong, "keys here").put(muted, "   in (brackets) at the foot: not now; press it and it says why")
	h.group(all, func(a *action) bool { return a.scope&h.under != 0 })
	all.line()
	all.say(strong, "elsewhere")
	for _, g := range scopeNames {
		if g.scope&h.under != 0 {
			continue
		}
		only := func(a *action) bool {
			return a.scope&g.scope != 0 && a.scope&h.under == 0 && a.scope&^(onAny) != 0 || a.scope == g.scope
		}
		if !h.any(only) {
			continue
		}
		all.say(head, g.name)
		h.group(all, only)
	}
	all.close()
	h.long, h.page = len(all.lines), n
	p := newPage(h.look, w, n)
	h.top = max(min(h.top, h.long-n), 0)
	more := h.long - h.top - n
	if more <= 0 || n < 4 {
		p.add(all.lines[h.top:min(h.top+n, h.long)])
		return p.String()
	}
	p.add(all.lines[h.top : h.top+n-1])
	p.say(muted, fmt.Sprintf("%s %s: page down", h.look.down, race.Counted(more+1, "more line", "more lines")))
	return p.String()
}

func (h *help) any(want func(*action) bool) bool {
	for i := range actions {
		if want(&actions[i]) {
			return true
		}
	}
	return false
}

func (h *help) group(p *page, want func(*action) bool) {
	for i := range actions {
		a := &actions[i]
		if !want(a) {
			continue
		}
		var ks []string
		for _, k := range a.keys {
			ks = append(ks, keyName(k, h.look))
		}
		if len(ks) == 0 {
			ks = []string{":"} // by its name
		}
		p.line().right(keycap, strings.Join(ks, " "), 14).gap(2).put(text, a.help)
	}
}
