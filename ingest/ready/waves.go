package ready

import (
	"fmt"
	"strings"

	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

// waves tells each wave's gun and how many start with it.
func (l *look) waves() {
	starters, own := make([]int, len(l.Plan.Waves)), make([]int, len(l.Plan.Waves))
	for i := range l.Athletes {
		a := &l.Athletes[i]
		if a.Wave < 0 || a.Wave >= len(starters) || a.Status == race.DNS {
			continue
		}
		starters[a.Wave]++
		if a.Start.Known() {
			own[a.Wave]++
		}
	}
	for i := range l.Plan.Waves {
		w := &l.Plan.Waves[i]
		at := l.WaveAt[i]
		gun := l.gun(w.Gun)
		if w.Gun.Known() {
			f := l.say("waves", Fine, "", "wave %s on %s: gun %s, %s", w.ID, l.Plan.Courses[w.Course].ID, gun, race.Counted(starters[i], "athlete", "athletes"))
			if own[i] > 0 {
				f.Says += ", " + race.Counted(own[i], "start", "starts") + " of their own"
			}
		} else if own[i] < starters[i] || starters[i] == 0 {
			l.say("waves", Odd, "the g key of the console, or set-gun, says it when it goes", "wave %s on %s has no gun yet, and %s", w.ID, l.Plan.Courses[w.Course].ID, race.Counted(starters[i], "athlete", "athletes")).
				at(plan.TomlFile, at.Line, at.Column)
		} else {
			l.say("waves", Fine, "", "wave %s on %s: %s, each with a start of their own", w.ID, l.Plan.Courses[w.Course].ID, race.Counted(starters[i], "athlete", "athletes"))
		}
		if starters[i] == 0 {
			l.say("waves", Odd, "a row in athletes.csv, if somebody starts in it", "nobody is in wave %s", w.ID).at(plan.TomlFile, at.Line, at.Column)
		}
	}
	l.open("waves", race.DoubtfulGun)
}

// gun is a gun's time of day, with its date where that isn't the race's.
func (l *look) gun(t race.Instant) string {
	if !t.Known() {
		return ""
	}
	u := t.Time(l.Plan.Zone)
	if u.Format("2006-01-02") != l.Plan.Date.Format("2006-01-02") {
		return u.Format("2006-01-02 15:04:05")
	}
	return u.Format("15:04:05")
}

// open passes on the open suspects of a kind. A wave without a gun is told already.
func (l *look) open(part, kind string) {
	for i := range l.st.Suspects {
		s := &l.st.Suspects[i]
		if s.Kind != kind || s.Settled || kind == race.DoubtfulGun && !l.anyGun(s) || kind == race.SilentLog && l.noLog(s) {
			continue
		}
		level := Odd
		if s.Weight == race.Hold {
			level = Fault
		}
		do := ""
		if s.Proposes != "" {
			do = fmt.Sprintf("settle it on the desk, or: twinmat rule %s %s --why …", race.Arg(l.Dir), s.Proposes)
		}
		l.say(part, level, do, "%s", strings.TrimSuffix(s.Says, "."))
	}
}

// noLog tells whether a silence is of a log that isn't there, or is another's again: both
// are told with their place.
func (l *look) noLog(s *race.Suspect) bool {
	for i := range l.Plan.Logs {
		g := &l.Plan.Logs[i]
		if !strings.HasPrefix(s.ID, s.Kind+":"+l.Plan.Lines[g.Line].ID+"/"+g.System.String()+"@") {
			continue
		}
		if x := l.Reads[i]; x != nil && x.Kept > 0 && (i == l.Plan.Reference(g.Line) || !same(x, l.Reads[l.Plan.Reference(g.Line)])) {
			return false
		}
	}
	return true
}

func (l *look) anyGun(s *race.Suspect) bool {
	for _, w := range l.st.Plan.Waves {
		if s.ID == race.DoubtfulGun+":"+w.ID {
			return w.Gun.Known()
		}
	}
	return true
}

// More damaged lines of rulings.jsonl than this are counted.
const damageTold = 3

// rulings tells of what was decided already.
func (l *look) rulings() {
	switch {
	case l.RulingsFault != "":
		l.say("rulings", Fault, "", "%s", l.RulingsFault).at("rulings.jsonl", 0, 0)
	case l.Journal.Damaged():
		for _, d := range l.Journal.Damage[:min(len(l.Journal.Damage), damageTold)] {
			l.say("rulings", Fault, "mend the line, or take it out by hand", "%s: that ruling is left out, and nothing can be ruled", d.Why).at("rulings.jsonl", d.Line, 1)
		}
		if n := len(l.Journal.Damage) - damageTold; n > 0 {
			l.say("rulings", Fault, "", "%d more lines can't be read", n).at("rulings.jsonl", 0, 0)
		}
		if len(l.Journal.Missing) > 0 {
			l.say("rulings", Fault, "", "it lacks the rulings numbered %s", strings.Join(l.Journal.Missing, ", ")).at("rulings.jsonl", 0, 0)
		}
	case len(l.Rulings) > 0:
		l.say("rulings", Odd, "a practice's? take rulings.jsonl away before the race", "%s on disk already", race.Counted(len(l.Rulings), "ruling", "rulings")).at("rulings.jsonl", 0, 0)
	}
	for _, s := range l.st.IdleRulings() {
		l.say("rulings", Odd, "take it back, or rule anew what it meant", "%s", s).at("rulings.jsonl", 0, 0)
	}
	if s := l.Journal.String(); s != "" && !l.Journal.Damaged() {
		l.say("rulings", Odd, "", "%s", s)
	}
}
