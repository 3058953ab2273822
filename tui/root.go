package tui

import (
	"fmt"
	"runtime/debug"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"
)

// sight is what every screen and overlay sees by. The root alone changes it.
type sight struct {
	look  *look
	book  *book     // what is shown: now, frozen, or an earlier moment
	now   time.Time // the laptop's clock
	still bool      // the book is frozen, or of an earlier moment
	o     *Options
}

// A screen is one of the numbered pages. View returns exactly h lines of w columns.
type screen interface {
	name() string
	scope() scope
	sync() // the book changed
	list() (*table, listing)
	View(w, h int) string
}

// An overlay takes the place of the screen until it is left.
type overlay interface {
	scope() scope
	View(w, h int) string
	sync() // the book changed
}

// A typist is an overlay with a field that takes what is typed.
type typist interface {
	typing() bool
	typed(r *root, k tea.KeyMsg) (tea.Cmd, bool)
}

// A bearer knows which athlete is meant just now.
type bearer interface{ bib() string }

// root routes: keys to actions, snapshots to screens, answers to who asked.
type root struct {
	sight   *sight
	o       Options
	profile termenv.Profile
	w, h    int

	live    *book
	frozen  bool
	screens []screen
	stale   []bool // which of them haven't seen the book
	on      int
	pressed string // the key being acted on

	steady    func() time.Time // goes on as time does, nil: keys aren't timed
	pressedAt time.Time        // on steady
	held      bool             // the key is still down, or bounced
	over      []overlay

	said    said
	watch   attention
	saver   saver
	asked   int   // the number of the last question put to the desk
	history *book // live when a look back began, nil otherwise

	painter painter
	frame   string // what View returns
	dirty   bool   // the frame is older than what it shows
	ticking bool   // the time of a frame hasn't passed since data was drawn
	away    bool   // the terminal is not in front
	broken  string // where the crash report is, "" : nothing broke
}

type (
	bookMsg   struct{ b *book }
	frameMsg  struct{}
	secondMsg struct{}
)

func newRoot(o Options, l *look) *root {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	m := &root{o: o, w: 80, h: 24}
	m.sight = &sight{look: l, now: o.Clock(), o: &m.o}
	m.live = newBook(Update{}, nil)
	m.sight.book = m.live
	m.watch.heard = map[string]bool{}
	m.screens = newScreens(m.sight)
	m.stale = make([]bool, len(m.screens))
	m.redraw()
	return m
}

func (m *root) Init() tea.Cmd {
	return tea.Batch(everySecond(), tea.SetWindowTitle("twinmat"))
}

func everySecond() tea.Cmd {
	return tea.Tick(time.Second, func(time.Time) tea.Msg { return secondMsg{} })
}

// Update is a turn of the program's loop; what it drew is on the terminal when it returns.
func (m *root) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	done := m.o.Meter.began(msg)
	cmd := m.turn(msg)
	done()
	m.painter.paint(m.frame)
	return m, cmd
}

// turn only routes. Keys and sizes are drawn at once; data no oftener than a frame lasts.
func (m *root) turn(msg tea.Msg) (cmd tea.Cmd) {
	defer func() {
		if r := recover(); r != nil {
			m.broken, cmd = CrashReport(m.o.Crash, m.o.Version, r, debug.Stack()), tea.Quit
		}
	}()
	now := true
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.w, m.h = msg.Width, msg.Height
	case tea.KeyMsg:
		m.sight.now = m.o.Clock()
		var cmds []tea.Cmd
		for _, k := range m.split(msg) {
			if c := m.key(k); c != nil {
				cmds = append(cmds, c)
			}
		}
		cmd = batch(cmds)
	case tea.MouseMsg:
		cmd = m.mouse(msg)
	case tea.FocusMsg:
		m.away = false
	case tea.BlurMsg:
		m.away = true
	case bookMsg:
		cmd, now = m.take(msg.b), false
	case secondMsg:
		m.sight.now = m.o.Clock()
		cmd, now = everySecond(), false
	case frameMsg:
		if m.ticking, now = false, false; !m.dirty {
			return nil
		}
	case brokenMsg:
		m.broken, cmd = msg.report, tea.Quit
	case answer:
		cmd = msg.deliver(m)
	default:
		now = false
	}
	if now {
		m.redraw()
		return cmd
	}
	return batch([]tea.Cmd{cmd, m.due()})
}

// due draws what is new, if nothing was drawn for the time of a frame; what comes sooner waits
// for the frame's end, all of it for one: an idle console draws nothing, and a busy one so often.
func (m *root) due() tea.Cmd {
	m.dirty = true
	if m.ticking {
		return nil
	}
	m.redraw()
	m.ticking = true
	return tea.Tick(frameEvery, func(time.Time) tea.Msg { return frameMsg{} })
}

func batch(cmds []tea.Cmd) tea.Cmd {
	n := 0
	for _, c := range cmds {
		if c != nil {
			cmds[n] = c
			n++
		}
	}
	switch n {
	case 0:
		return nil
	case 1:
		return cmds[0]
	}
	return tea.Batch(cmds[:n]...)
}

// View returns the frame as last drawn: bubbletea calls it after every message.
func (m *root) View() string { return m.frame }

// take puts a new snapshot in place.
func (m *root) take(b *book) tea.Cmd {
	m.live = b
	m.saver.shown(m, b)
	cmd := m.watch.hear(m, b)
	if m.frozen || m.history != nil {
		return cmd
	}
	m.show(b)
	return batch([]tea.Cmd{cmd, m.wants()})
}

func (m *root) show(b *book) {
	m.sight.book = b
	for i := range m.stale {
		m.stale[i] = true
	}
	m.turnTo(m.on)
	for _, o := range m.over {
		o.sync()
	}
}

// turnTo shows a screen. The others go on holding rows of an older book and are looked at by
// nobody: a great race ordered anew for each of them would keep a key waiting.
func (m *root) turnTo(i int) {
	m.on = i
	if m.stale[i] {
		m.stale[i] = false
		m.screens[i].sync()
	}
}

func (m *root) top() overlay {
	if len(m.over) == 0 {
		return nil
	}
	return m.over[len(m.over)-1]
}

func (m *root) push(o overlay) { m.over = append(m.over, o) }

func (m *root) pop() {
	if len(m.over) > 0 {
		m.over = m.over[:len(m.over)-1]
	}
}

func (m *root) screen() screen { return m.screens[m.on] }

// scope is where keys are live now.
func (m *root) scope() scope {
	if o := m.top(); o != nil {
		return o.scope()
	}
	return m.screen().scope()
}

// bib is the athlete who is meant, "" for none.
func (m *root) bib() string {
	if o := m.top(); o != nil {
		if b, ok := o.(bearer); ok {
			return b.bib()
		}
		return ""
	}
	if b, ok := m.screen().(bearer); ok {
		return b.bib()
	}
	return ""
}

// redraw makes the frame: the top lines, the screen or what lies over it, the lines below.
func (m *root) redraw() {
	m.dirty = false
	p := newPage(m.sight.look, m.w, m.h)
	if m.w < 20 || m.h < 8 {
		p.say(bad, fmt.Sprintf("%d by %d is too small to show a race", m.w, m.h))
		m.frame = p.String()
		return
	}
	m.heading(p)
	words := m.saying()
	body := max(m.h-3-len(words.lines), 0)
	if o := m.top(); o != nil {
		p.add(lines(o.View(m.w, body)))
	} else {
		p.add(lines(m.screen().View(m.w, body)))
	}
	m.say(p, words)
	m.footer(p)
	m.frame = p.String()
}
