package tui

import (
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"

	"twinmat/reconcile/race"
)

// hostile texts, of the kinds that terminals have obeyed: colours, titles, clipboard,
// links, device strings, 8-bit controls, directions, joiners, half bytes, marks without end.
var hostile = []string{
	"\x1b[31mred", "\x1b]0;title\x07", "\x1b]52;c;aGk=\x1b\\", "\x1b]8;;http://x\x1b\\link", "\x1bP1$q\x1b\\", "\u009b31m", "\xc2\x9b31m", "\x9b31m",
	"a\rb", "a\nb", "a\tb", "a\x00b", "\x7f", "\u202eflip", "\u2066x\u2069", "zero\u200bwidth", "\u2028line", "\xff\xfe", "\ufeffbom", "e" + strings.Repeat("\u0301", 500),
	"\U000e0041tag", "👩\u200d👩\u200d👧", "🇵🇹🇵", "ᄀᄀᄀ각", "ｗｉｄｅ", "\u115f", strings.Repeat("田", 300), "🏴\U000e0067",
}

func checkClean(t *testing.T, in string) {
	t.Helper()
	s := clean(in)
	if !utf8.ValidString(s) {
		t.Fatalf("clean(%q) isn't UTF-8", in)
	}
	for _, c := range s {
		if c < 0x20 || c >= 0x7f && c < 0xa0 || hidden(c) {
			t.Fatalf("clean(%q) lets %U through", in, c)
		}
	}
	if again := clean(s); again != s {
		t.Fatalf("clean isn't settled: %q, then %q", s, again)
	}
	l := lookFor("night", false)
	for _, w := range []int{1, 2, 7, 40} {
		p := newPage(l, w, 2)
		p.line().cell(text, in, w/2).right(strong, in, w/3).put(bad, in)
		p.prose(text, in, 1)
		for _, line := range p.done() {
			if n := ansi.StringWidth(line); n != w {
				t.Fatalf("%q in %d columns takes %d: %q", in, w, n, line)
			}
			rest := line
			for _, s := range append(l.on[:], l.off) {
				rest = strings.ReplaceAll(rest, s, "")
			}
			if strings.ContainsAny(rest, "\x1b\r\n\x07\x00") || strings.ContainsRune(rest, 0x9b) {
				t.Fatalf("%q reaches the terminal: %q", in, rest)
			}
		}
	}
}

func TestHostileTextStaysText(t *testing.T) {
	for _, s := range hostile {
		checkClean(t, s)
	}
	if got := clean("\x1b[31m"); got != `\x1b[31m` {
		t.Errorf("an escape is shown as %q", got)
	}
	if got := clean("Nu\u0308r Ína 小林"); got != "Nu\u0308r Ína 小林" {
		t.Errorf("a name is changed to %q", got)
	}
}

func FuzzClean(f *testing.F) {
	for _, s := range hostile {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 4096 {
			t.Skip()
		}
		checkClean(t, s)
	})
}

// hostileRace is a race in which every text that files give is hostile.
func hostileRace(from *race.State) *race.State {
	s := *from
	s.Results, s.Ranks = copied(s.Results), slices.Clone(s.Ranks)
	s.Suspects = slices.Clone(s.Suspects)
	s.ByBib = map[string]int{}
	for i := range s.Results {
		h := hostile[i%len(hostile)]
		r := s.Results[i]
		r.Name, r.Team, r.Category, r.Sex = h, h, h, h
		r.Bib += h
		s.ByBib[r.Bib] = i
	}
	for i := range s.Suspects {
		x := &s.Suspects[i]
		h := hostile[i%len(hostile)]
		x.Says, x.Proposes, x.Tag, x.Line = h+x.Says, x.Proposes+h, h, h
		x.Bibs = []string{s.Results[i].Bib}
	}
	s.Rulings = []race.Ruling{{Seq: 1, Rule: race.SetStatus, Why: "\x1b[2J", Who: "\x9b2J", Made: "\x1b]0;x\x07 .................."}}
	return &s
}

// Every text that files give, hostile at once: each frame is whole and nothing of it but
// our own inks is an escape.
func TestHostileRaceTouchesNoTerminal(t *testing.T) {
	d := newDriver(t, 80, 24, 60, nil)
	s := hostileRace(d.desk.state)
	d.desk.state = s
	d.feed()
	d.send(bookMsg{newBook(Update{State: s, Notices: []Notice{{Key: "x", Level: Urgent, Says: "\x1b[2J\x07"}},
		Health: []Health{{Source: 1, Trouble: "\x1b]52;c;aGk=\x07"}}}, d.m.live)})
	for _, f := range frames {
		d.keys("esc esc esc " + f.keys)
		d.whole(d.m.View())
		rest := d.m.View()
		for _, s := range append(d.m.sight.look.on[:], d.m.sight.look.off) {
			rest = strings.ReplaceAll(rest, s, "")
		}
		if strings.ContainsAny(rest, "\x1b\r\x07\x00") {
			t.Fatalf("%s lets something through: %q", f.name, rest)
		}
	}
}

func TestCutMouseReportsAreNoKeys(t *testing.T) {
	now := time.Unix(0, 0)
	s := &sieve{now: func() time.Time { return now }}
	var got []string
	pass := func(k tea.KeyMsg) {
		if m, ok := s.filter(nil, k).(tea.KeyMsg); ok {
			got = append(got, m.String())
		}
	}
	rs := func(t string) tea.KeyMsg { return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(t)} }
	pass(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'['}, Alt: true})
	pass(rs("<32;39;13M"))
	pass(rs("j"))
	pass(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'['}, Alt: true})
	pass(rs("<0;1"))
	pass(rs("2;7mk"))
	pass(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'['}, Alt: true})
	now = now.Add(time.Second) // a person pressed alt+[ and, later, 3
	pass(rs("3"))
	if want := "j k 3"; strings.Join(got, " ") != want {
		t.Errorf("%q came through, want %q", strings.Join(got, " "), want)
	}
}

func FuzzKeys(f *testing.F) {
	for _, x := range frames {
		f.Add([]byte(x.keys))
	}
	names := []string{"enter", "esc", "tab", "shift+tab", "up", "down", "backspace", "pgup", "pgdown", "home", "end", "space", "ctrl+l", "ctrl+u", "left", "right"}
	f.Fuzz(func(t *testing.T, script []byte) {
		if len(script) > 200 {
			t.Skip()
		}
		d := newDriver(t, 80, 24, 60, nil)
		for i, c := range script {
			switch {
			case int(c) < len(names):
				d.send(press(names[c]))
			case c >= 0x20 && c < 0x7f:
				d.send(press(string(rune(c))))
			case c < 0x80:
				d.send(tea.WindowSizeMsg{Width: 20 + int(c)*3, Height: 8 + int(c)})
			default:
				d.send(tea.MouseMsg{X: i, Y: int(c) - 0x80, Button: tea.MouseButtonLeft, Action: tea.MouseActionPress})
			}
			d.whole(d.m.View())
		}
		for range 8 {
			d.send(press("esc"))
		}
		if d.m.top() != nil {
			t.Fatalf("esc doesn't leave %T", d.m.top())
		}
	})
}
