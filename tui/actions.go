package tui

import (
	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// A scope is where an action is live: a screen, or what lies over one.
type scope uint32

const (
	onDesk scope = 1 << iota
	onCrossings
	onAthletes
	onClocks
	onSystems
	onOut
	onRulings
	onGoing
	inStory
	inSettle
	inAlike
	inReason
	inForm
	inGun
	inWitness
	inUndo
	inSearch
	inPalette
	inBack
	inHelp
	inPlan
	inAsk

	onAny  = onDesk | onCrossings | onAthletes | onClocks | onSystems | onOut | onRulings | onGoing
	onBib  = onDesk | onCrossings | onAthletes | onOut | onRulings | inStory | inSettle
	calm   = onAny | inStory // where single letters act and nothing waits for an answer
	all    = inAsk<<1 - 1
	inType = inReason | inForm | inWitness | inSearch | inPalette | inBack
)

// scopeNames name the scopes for help and for the table of keys.
var scopeNames = []struct {
	scope scope
	name  string
}{
	{onDesk, "desk"}, {onCrossings, "crossings"}, {onAthletes, "athletes"}, {onClocks, "clocks"}, {onSystems, "systems"}, {onOut, "still out"},
	{onRulings, "rulings"}, {onGoing, "export"}, {inStory, "one athlete's story"}, {inSettle, "settling a case"}, {inAlike, "settling cases that are alike"}, {inReason, "writing a reason"},
	{inForm, "a form"}, {inGun, "a gun"}, {inWitness, "seen by eye"}, {inUndo, "taking a ruling back"}, {inSearch, "search"},
	{inPalette, "the list of everything"}, {inBack, "looking back"}, {inHelp, "help"}, {inPlan, "a changed plan"}, {inAsk, "a question"},
}

// An action is one thing the operator can do. Keys, footer, help, the list of everything
// and the README's table of keys are all read from this table, so none can disagree.
type action struct {
	id     string
	keys   []string // the first one is shown
	short  string   // in the footer
	help   string
	scope  scope
	foot   int                  // 1: first in the footer, 2: if there is room, 0: not there
	silent bool                 // not in the list of everything: moving about
	saves  bool                 // it may write: a key that is held down or bounces doesn't do it
	why    func(m *root) string // "" when it can act, else the reason shown
	do     func(m *root) tea.Cmd
}

func noNotice(m *root) string {
	if m.watch.first() == nil {
		return "no notice waits"
	}
	return ""
}

func ruler(m *root) string { return m.whyNoRuling() }

// actions is filled in init: the table names functions that read the table.
var actions []action

func init() {
	actions = append(actions, settling()...)
	actions = append(actions, alikes()...)
	actions = append(actions, ruling()...)
	actions = append(actions, looking()...)
	actions = append(actions, leaving()...)
	actions = append(actions, moving()...)
}

// alikes is what is done to cases that are alike.
func alikes() []action {
	a := func(m *root) *alike { return m.top().(*alike) }
	return []action{
		{id: "alike.apply", saves: true, keys: []string{"enter"}, short: "apply", help: "make the rulings, one for each case taken in", scope: inAlike, foot: 1,
			why: func(m *root) string {
				if w := m.whyNoRuling(); w != "" {
					return w
				}
				return a(m).whyNot()
			}, do: func(m *root) tea.Cmd { return a(m).enter(m) }},
		{id: "alike.out", keys: []string{" "}, short: "leave out", help: "leave the case under the cursor out, or take it in", scope: inAlike, foot: 1,
			do: func(m *root) tea.Cmd { a(m).toggle(); return nil }},
		{id: "alike.reach", keys: []string{"o"}, short: "where", help: "those of this split alone, of this line, of all lines", scope: inAlike, foot: 1,
			do: func(m *root) tea.Cmd { return a(m).further(m) }},
		{id: "alike.next", keys: []string{"tab"}, short: "another", help: "decide otherwise: what each offers, or accept", scope: inAlike, foot: 1,
			do: func(m *root) tea.Cmd { return a(m).choose(m, (a(m).at+1)%len(a(m).ways)) }},
		{id: "alike.pick", keys: []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}, help: "decide by number", scope: inAlike, silent: true,
			do: func(m *root) tea.Cmd { return a(m).choose(m, int(m.pressed[0]-'1')) }},
		{id: "alike.reason", keys: []string{"e"}, short: "reason", help: "write one reason for all of them", scope: inAlike, foot: 1,
			do: func(m *root) tea.Cmd { a(m).write(); return nil }},
	}
}

// settling is what is done to a case.
func settling() []action {
	s := func(m *root) *settle { return m.top().(*settle) }
	return []action{
		{id: "case.open", keys: []string{"enter"}, short: "settle", help: "put the case on the table: evidence, proposal, effect", scope: onDesk, foot: 1,
			why: needsCase, do: func(m *root) tea.Cmd { return m.openSettle(m.desk().selected().ID, false) }},
		{id: "case.accept", keys: []string{"x"}, short: "accept", help: "accept the case as it stands (shown first)", scope: onDesk, foot: 1,
			why: needsCase, do: func(m *root) tea.Cmd { return m.openSettle(m.desk().selected().ID, true) }},
		{id: "case.alike", keys: []string{"X"}, short: "all alike", help: "settle all cases that are like this one with one decision (shown first)", scope: onDesk, foot: 2,
			why: needsCase, do: (*root).openAlike},
		{id: "case.settled", keys: []string{"v"}, short: "settled too", help: "show settled cases too, or only open ones", scope: onDesk, foot: 2,
			do: func(m *root) tea.Cmd { d := m.desk(); d.settled = !d.settled; d.sync(); return nil }},
		{id: "leaders.all", keys: []string{"l"}, short: "leaders", help: "show every board of leaders, or the first few", scope: onDesk, foot: 2,
			do: func(m *root) tea.Cmd { d := m.desk(); d.all = !d.all; return nil }},
		{id: "settle.apply", saves: true, keys: []string{"enter"}, short: "apply", help: "make the chosen ruling, with the reason shown", scope: inSettle, foot: 1,
			why: func(m *root) string {
				if w := m.whyNoRuling(); w != "" {
					return w
				}
				return s(m).whyNot()
			}, do: func(m *root) tea.Cmd { return s(m).apply(m) }},
		{id: "settle.next", keys: []string{"tab", "down", "j"}, short: "another", help: "choose the next ruling offered", scope: inSettle, foot: 1,
			do: func(m *root) tea.Cmd { t := s(m); return t.choose(m, (t.at+1)%len(t.choices)) }},
		{id: "settle.before", keys: []string{"shift+tab", "up", "k"}, help: "choose the ruling before", scope: inSettle, silent: true,
			do: func(m *root) tea.Cmd { t := s(m); return t.choose(m, (t.at+len(t.choices)-1)%len(t.choices)) }},
		{id: "settle.pick", keys: []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}, help: "choose a ruling by its number", scope: inSettle, silent: true,
			do: func(m *root) tea.Cmd { return s(m).choose(m, int(m.pressed[0]-'1')) }},
		{id: "settle.accept", keys: []string{"x"}, short: "accept", help: "choose to accept it as it stands", scope: inSettle, foot: 1,
			do: func(m *root) tea.Cmd { t := s(m); return t.choose(m, t.acceptAt()) }},
		{id: "settle.reason", keys: []string{"e"}, short: "reason", help: "write the reason yourself", scope: inSettle, foot: 1,
			do: func(m *root) tea.Cmd { m.top().(reasoned).because().writing = true; return nil }},
		{id: "reason.done", keys: []string{"enter"}, short: "done", help: "keep the reason as written", scope: inReason, foot: 1,
			do: func(m *root) tea.Cmd { o := m.top().(reasoned); o.because().done(o.offered()); return nil }},
	}
}

// ruling is what changes the race.
func ruling() []action {
	open := func(kind string) func(m *root) tea.Cmd {
		return func(m *root) tea.Cmd { return m.openForm(kind, m.known(kind)) }
	}
	return []action{
		{id: "gun", keys: []string{"g"}, short: "gun", help: "a gun sounds NOW: the time is taken at this key", scope: calm, foot: 2, why: ruler, do: (*root).openGun},
		{id: "gun.apply", saves: true, keys: []string{"enter"}, short: "show, save", help: "show what this gun changes, then save it", scope: inGun, foot: 1, why: ruler,
			do: func(m *root) tea.Cmd { return m.top().(*gun).enter(m) }},
		{id: "gun.pick", keys: []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}, help: "choose the wave by its number", scope: inGun, silent: true, why: ruler,
			do: func(m *root) tea.Cmd { return m.top().(*gun).choose(m, int(m.pressed[0]-'1')) }},
		{id: "witness", keys: []string{"w"}, short: "by eye", help: "type bibs as they pass; the time is that of the first key", scope: calm, foot: 2, why: ruler, do: (*root).openWitness},
		{id: "witness.save", keys: []string{"enter"}, short: "save", help: "save this bib as seen", scope: inWitness, foot: 1, why: ruler,
			do: func(m *root) tea.Cmd { return m.top().(*witness).enter(m) }},
		{id: "witness.line", keys: []string{"tab"}, short: "line", help: "another line", scope: inWitness, foot: 1,
			do: func(m *root) tea.Cmd { m.top().(*witness).nextLine(); return nil }},
		{id: "chip.give", keys: []string{"a"}, short: "chip", help: "give a chip to a bib", scope: calm, foot: 2, why: ruler, do: open(race.AssignChip)},
		{id: "status", keys: []string{"p"}, short: "status", help: "set a status: dns, dnf, dsq, none", scope: onBib &^ inSettle, foot: 2, why: ruler, do: open(race.SetStatus)},
		{id: "time.set", keys: []string{"t"}, short: "time", help: "set a time from another witness", scope: onBib &^ inSettle, foot: 2, why: ruler, do: open(race.SetTime)},
		{id: "passing.void", keys: []string{"d"}, short: "didn't happen", help: "say that the passing under the cursor didn't happen", scope: onCrossings | inStory, foot: 2, why: ruler, do: open(race.VoidPassing)},
		{id: "system.use", keys: []string{"y"}, short: "system", help: "take main's, backup's or hand's time for this split", scope: inStory, foot: 2, why: ruler, do: open(race.UseSystem)},
		{id: "chip.ignore", help: "say that a chip is nobody's", scope: calm, why: ruler, do: open(race.IgnoreChip)},
		{id: "wave.set", help: "say that a bib ran with another wave", scope: calm, why: ruler, do: open(race.SetWave)},
		{id: "bibs.swap", help: "say that two wore each other's chips", scope: calm, why: ruler, do: open(race.SwapBibs)},
		{id: "time.adjust", help: "give a penalty, or take a neutralised stop off", scope: calm, why: ruler, do: open(race.AdjustTime)},
		{id: "athlete.add", help: "add someone the list lacks", scope: calm, why: ruler, do: open(race.AddAthlete)},
		{id: "course.close", help: "close a course: nobody else will come", scope: calm, why: ruler, do: open(race.CloseCourse)},
		{id: "form.enter", saves: true, keys: []string{"enter"}, short: "show, save", help: "show what this changes, then save it", scope: inForm, foot: 1, why: ruler,
			do: func(m *root) tea.Cmd { return m.top().(*form).enter(m) }},
		{id: "form.next", keys: []string{"tab", "down"}, short: "next", help: "the next field", scope: inForm, foot: 1, silent: true,
			do: func(m *root) tea.Cmd { m.top().(*form).step(1); return nil }},
		{id: "form.before", keys: []string{"shift+tab", "up"}, help: "the field before", scope: inForm, silent: true,
			do: func(m *root) tea.Cmd { m.top().(*form).step(-1); return nil }},
		{id: "undo", keys: []string{"u"}, short: "undo", help: "take back the last ruling (on rulings: the one under the cursor)", scope: calm, foot: 2, why: whyNoUndo,
			do: func(m *root) tea.Cmd { return m.openUndo(m.undoable()) }},
		{id: "undo.together", keys: []string{"tab"}, short: "all of them", help: "take back all that were made with this one, or this one alone", scope: inUndo, foot: 1,
			why: func(m *root) string { return m.top().(*undo).whyNotAll() }, do: func(m *root) tea.Cmd { return m.top().(*undo).turn(m) }},
		{id: "undo.apply", saves: true, keys: []string{"enter"}, short: "take back", help: "take this ruling back", scope: inUndo, foot: 1,
			why: func(m *root) string {
				if w := m.whyNoRuling(); w != "" {
					return w
				}
				return m.top().(*undo).whyNot()
			}, do: func(m *root) tea.Cmd { return m.top().(*undo).apply(m) }},
		{id: "plan", keys: []string{"Y"}, short: "changed plan", help: "take in the plan or lists that wait for a yes (shown first)", scope: calm, why: noPlanWaits, do: (*root).openPlan},
		{id: "plan.take", saves: true, keys: []string{"enter"}, short: "take it in", help: "take the changed plan in", scope: inPlan, foot: 1, why: noPlanWaits,
			do: func(m *root) tea.Cmd { return m.top().(*changedPlan).take(m) }},
		{id: "export", keys: []string{"E"}, short: "export", help: "write the export files now", scope: calm, foot: 2, why: whyNoExport, do: (*root).export},
		{id: "field.empty", keys: []string{"ctrl+u"}, short: "empty", help: "empty what stands before the cursor, to write something else", scope: inReason | inForm, foot: 1, silent: true,
			do: func(m *root) tea.Cmd {
				cmd, _ := m.top().(typist).typed(m, tea.KeyMsg{Type: tea.KeyCtrlU})
				return cmd
			}},
	}
}

// looking is what asks and changes nothing.
func looking() []action {
	return []action{
		{id: "story", keys: []string{"enter", "i"}, short: "story", help: "the whole story of this athlete", scope: onCrossings | onAthletes | onOut, foot: 1,
			why: needsBib, do: func(m *root) tea.Cmd { return m.openStory(m.bib()) }},
		{id: "story.case", keys: []string{"i"}, short: "story", help: "the whole story of the athlete concerned", scope: onDesk | onRulings | inSettle | inAlike, foot: 1,
			why: needsBib, do: func(m *root) tea.Cmd { return m.openStory(m.bib()) }},
		{id: "search", keys: []string{"/"}, short: "search", help: "search bib, name, chip, team", scope: calm, foot: 1, do: (*root).openSearch},
		{id: "search.open", keys: []string{"enter"}, short: "story", help: "the story of the one found, or the case of a chip that is nobody's", scope: inSearch, foot: 1, why: needsFound, do: (*root).openFound},
		{id: "athletes.order", keys: []string{"o"}, short: "order", help: "sort by the next column", scope: onAthletes, foot: 1,
			do: func(m *root) tea.Cmd {
				a := m.screens[screenAthletes].(*athletes)
				a.by = (a.by + 1) % len(orders)
				a.find("")
				return nil
			}},
		{id: "athletes.reverse", keys: []string{"O"}, short: "reverse", help: "turn the order round", scope: onAthletes, foot: 2,
			do: func(m *root) tea.Cmd {
				a := m.screens[screenAthletes].(*athletes)
				a.back = !a.back
				a.find("")
				return nil
			}},
		{id: "crossings.line", keys: []string{"o"}, short: "line", help: "one line alone, the next one, all", scope: onCrossings, foot: 1,
			do: func(m *root) tea.Cmd { m.screens[screenCrossings].(*crossings).nextLine(); return nil }},
		{id: "out.course", keys: []string{"o"}, short: "course", help: "one course alone, the next one, all", scope: onOut, foot: 1,
			do: func(m *root) tea.Cmd { m.screens[screenOut].(*out).nextCourse(); return nil }},
		{id: "seen", keys: []string{"s"}, short: "seen", help: "say that the notice at the foot has been seen", scope: calm, foot: 2,
			why: noNotice, do: func(m *root) tea.Cmd { m.watch.seen(); return nil }},
		{id: "seen.all", keys: []string{"S"}, short: "all seen", help: "say that every notice that waits has been seen", scope: calm, why: noNotice,
			do: func(m *root) tea.Cmd { m.watch.seenAll(); return nil }},
		{id: "freeze", keys: []string{"z"}, short: "freeze", help: "hold the screen still, and go on", scope: calm, foot: 2,
			do: func(m *root) tea.Cmd { m.freeze(); return nil }},
		{id: "past", keys: []string{"b"}, short: "look back", help: "the race as it stood at an earlier time", scope: calm, foot: 2,
			do: func(m *root) tea.Cmd { m.push(&back{sight: m.sight}); return nil }},
		{id: "past.go", keys: []string{"enter"}, short: "go back", help: "show the race as it stood then", scope: inBack, foot: 1,
			do: func(m *root) tea.Cmd { return m.top().(*back).enter(m) }},
		{id: "copy", keys: []string{"c"}, short: "copy", help: "copy the bib and what stands with it to the clipboard", scope: calm, why: nil, do: (*root).copy},
		{id: "look", keys: []string{"L"}, short: "look", help: "another theme: sun, night, mono", scope: calm, do: (*root).nextTheme},
		{id: "redraw", keys: []string{"ctrl+l"}, help: "draw the screen anew", scope: calm | inSettle | inAlike, silent: true, do: func(*root) tea.Cmd { return tea.ClearScreen }},
		{id: "everything", keys: []string{":"}, short: "do", help: "do anything by its name, or type a ruling in full", scope: calm, foot: 1, silent: true, do: (*root).openPalette},
		{id: "everything.go", saves: true, keys: []string{"enter"}, short: "do it", help: "do what is under the cursor", scope: inPalette, foot: 1,
			do: func(m *root) tea.Cmd { return m.top().(*palette).enter(m) }},
		{id: "help", keys: []string{"?"}, short: "help", help: "every key", scope: calm | inSettle | inAlike | inGun | inUndo, foot: 1,
			do: func(m *root) tea.Cmd { m.push(&help{sight: m.sight, under: m.scope()}); return nil }},
	}
}

// leaving: esc always leaves.
func leaving() []action {
	return []action{
		{id: "back", keys: []string{"esc"}, short: "back", help: "leave this; on a screen: show everything, and now", scope: calm | inSettle | inAlike | inForm | inGun | inWitness | inUndo | inSearch | inPalette | inBack | inHelp | inPlan | inAsk,
			foot: 2, silent: true, do: (*root).leave},
		{id: "reason.leave", keys: []string{"esc"}, short: "as it was", help: "leave the reason as it was offered", scope: inReason, foot: 1, silent: true,
			do: func(m *root) tea.Cmd {
				o := m.top().(reasoned)
				o.because().asItWas(o.offered())
				return nil
			}},
		{id: "quit", keys: []string{"q"}, short: "quit", help: "leave the console; the race's files are whole at any time", scope: onAny, foot: 2, do: (*root).quit},
		{id: "quit.now", keys: []string{"ctrl+c"}, help: "leave the console from anywhere", scope: all &^ inAsk, silent: true, do: (*root).quit},
		{id: "quit.yes", keys: []string{"enter", "ctrl+c"}, short: "leave", help: "leave all the same", scope: inAsk, foot: 1, silent: true,
			do: func(*root) tea.Cmd { return tea.Quit }},
	}
}
