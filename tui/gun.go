package tui

import (
	"fmt"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// gun takes the moment of a start at the key, and asks for the wave after.
type gun struct {
	*sight
	taken time.Time
	at    int
	waves []int // indexes in Plan.Waves, those without a gun first
	trial trial
	shown int // the wave that the trial is of, -1: none
}

func (m *root) openGun() tea.Cmd {
	g := &gun{sight: m.sight, taken: m.sight.now, shown: -1}
	for _, without := range []bool{true, false} {
		for i := range m.live.Plan.Waves {
			if m.live.Plan.Waves[i].Gun.Known() != without {
				g.waves = append(g.waves, i)
			}
		}
	}
	m.push(g)
	return nil
}

func (g *gun) scope() scope  { return inGun }
func (g *gun) sync()         {}
func (g *gun) tried() *trial { return &g.trial }

func (g *gun) choose(m *root, i int) tea.Cmd {
	if i < 0 || i >= len(g.waves) {
		return nil
	}
	g.at = i
	return g.enter(m)
}

func (g *gun) move(by int) {
	g.at = max(min(g.at+by, len(g.waves)-1), 0)
}

func (g *gun) time() string { return race.Of(g.taken).Format(g.book.Plan.Zone) }

// enter shows the effect, then saves.
func (g *gun) enter(m *root) tea.Cmd {
	if len(g.waves) == 0 {
		m.tell(warn, "the plan has no wave")
		return nil
	}
	if g.shown != g.at || g.trial.state == refused || g.trial.state == untried {
		g.shown = g.at
		return m.try(&g.trial, nil, "set-gun --wave "+race.Arg(g.book.Plan.Waves[g.waves[g.at]].ID)+" --at "+g.time())
	}
	if why := g.trial.why(); why != "" {
		m.tell(warn, "%s", why)
		return nil
	}
	r := g.trial.ruling()
	r.Why = "gun heard; time taken at the key by the laptop's clock"
	m.pop()
	return m.save(saving{ruling: r, words: g.trial.words})
}

func (g *gun) View(w, h int) string {
	p := newPage(g.look, w, h)
	p.line().put(strong, "gun at ").put(picked, " "+g.taken.In(zoneOf(g.book)).Format("15:04:05.000")+" ")
	low := h < lowWindow
	if !low {
		g.explain(p)
		g.clockWarning(p, likelyWrong)
		p.line()
		p.say(head, "which wave?")
	}
	g.offer(p, low)
	if !low {
		p.line()
	}
	if had := g.had(); had.Known() {
		p.prose(bad, fmt.Sprintf("%s wave %s has started: this would replace its gun at %s by %s", g.look.warn,
			g.book.Plan.Waves[g.waves[g.at]].ID, clockOf(g.book.State, had), g.taken.In(zoneOf(g.book)).Format("15:04:05")), 2)
	}
	if g.shown == g.at {
		g.trial.draw(p, p.left()-1)
		if g.trial.state == ready {
			p.say(good, "enter saves it")
		}
	} else {
		p.say(muted, "enter shows what it would change")
		if low {
			g.clockWarning(p, likelyWrong)
			g.explain(p)
		}
	}
	return p.String()
}

// explain says whose clock the time is of, and how to give another.
func (g *gun) explain(p *page) {
	wave := "A"
	if len(g.waves) > 0 {
		wave = g.book.Plan.Waves[g.waves[g.at]].ID
	}
	p.prose(muted, "by this laptop's clock. Where that is wrong: esc, and type the right wave and time, as in  :set-gun --wave "+race.Arg(wave)+" --at 08:00:00.0", 3)
}

// offer lists the waves; in a low window those from the chosen one on.
func (g *gun) offer(p *page, low bool) {
	for i, k := range g.waves {
		if low && i < g.at {
			continue
		}
		if p.left() < 5 && !(low && i == g.at) {
			break
		}
		v := &g.book.Plan.Waves[k]
		r := p.pick(i == g.at).put(keycap, fmt.Sprint(i+1)).gap(1).cell(strong, v.ID, 14)
		if v.Gun.Known() {
			r.put(muted, "has its gun at "+clockOf(g.book.State, v.Gun))
		} else {
			r.put(text, "waits for its gun")
		}
		r.gap(r.left())
	}
}

// had is the gun that the chosen wave has, NoInstant: none yet.
func (g *gun) had() race.Instant {
	if g.at < len(g.waves) && g.waves[g.at] < len(g.book.Plan.Waves) {
		return g.book.Plan.Waves[g.waves[g.at]].Gun
	}
	return race.NoInstant
}

// A laptop's clock may lead the newest reads by a lull; it can't trail them.
const (
	lull  = 10 * time.Minute
	trail = time.Minute
)

// likelyWrong is what a clock that can't be the race's does to a time taken by a key.
const likelyWrong = "a time taken by a key is likely wrong"

// clockWarning tells when times taken by a key can't be on the race clock.
func (s *sight) clockWarning(p *page, so string) {
	if s.still || !s.book.Now.Known() { // reads of now aren't shown: nothing to hold it against
		return
	}
	d := s.now.Sub(s.book.Now.Time(time.UTC))
	if d > -trail && d < lull {
		return
	}
	says := s.now.In(zoneOf(s.book)).Format("15:04:05")
	if s.anotherDay() {
		says = s.now.In(zoneOf(s.book)).Format("2006-01-02 15:04:05")
	}
	p.prose(bad, fmt.Sprintf("%s this laptop's clock says %s, but the reads go up to %s: %s",
		p.look.warn, says, clockOf(s.book.State, s.book.Now), so), 3)
}

// anotherDay tells whether this laptop's clock is a day or more from the reads, as in a race that
// is played again: a time taken by a key is none of that race.
func (s *sight) anotherDay() bool {
	if s.still || !s.book.Now.Known() {
		return false
	}
	d := s.now.Sub(s.book.Now.Time(time.UTC))
	return d.Abs() >= 24*time.Hour
}

func zoneOf(b *book) *time.Location {
	if b.Plan.Zone != nil {
		return b.Plan.Zone
	}
	return time.UTC
}
