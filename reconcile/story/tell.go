package story

import (
	"cmp"
	"fmt"
	"strings"
)

// Lines is the story as text for a person: a page with what a protest turns on, then every
// read behind it.
func (s *Story) Lines() []string {
	t := &telling{s: s}
	t.head()
	t.cases()
	t.passings("", s.Splits)
	t.passings("passings that fill no split", s.Other)
	t.reads()
	return t.out
}

type telling struct {
	s   *Story
	out []string
}

func (t *telling) add(format string, a ...any) { t.out = append(t.out, fmt.Sprintf(format, a...)) }

// clock shortens an instant of the race's date and the gun's zone to its time of day; any
// other stays whole.
func (t *telling) clock(at string) string {
	const day, zone = len("2006-01-02T"), len("2006-01-02T15:04:05.000")
	g := t.s.Gun
	if len(at) > zone && len(g) > zone && strings.HasPrefix(at, t.s.Date) && at[zone:] == g[zone:] {
		return at[day:zone]
	}
	return cmp.Or(at, "none")
}

func (t *telling) head() {
	s := t.s
	who, place := s.Bib, "on no list"
	if s.Name != "" {
		who += "  " + s.Name
	}
	if s.Wave != "" {
		place = s.Course + ", wave " + s.Wave
	}
	t.add("bib %s  (%s)", who, place)
	t.add("%s, %s; times of day of the race clock, %s", s.Race, s.Date, s.Zone)
	t.add("chips %s", cmp.Or(strings.Join(s.Chips, ", "), "none"))
	t.add("")
	rank := "no rank"
	if s.Rank > 0 {
		rank = fmt.Sprintf("rank %d", s.Rank)
	}
	t.add("state %s, %s", s.State, rank)
	if s.GunTime == "" {
		t.add("gun %s, start %s, finish %s", t.clock(s.Gun), t.clock(s.StartAt), t.clock(s.FinishAt))
	} else {
		t.add("gun time %s = finish %s − gun %s", s.GunTime, t.clock(s.FinishAt), t.clock(s.Gun))
	}
	if s.NetTime != "" {
		t.add("net time %s = finish %s − start %s", s.NetTime, t.clock(s.FinishAt), t.clock(s.StartAt))
	}
	if s.Official != "" {
		t.add("official %s = %s time%s, rounding %s", s.Official, s.Ranks, adjusted(s.Adjusted), s.Rounding)
	}
	for _, r := range s.Rulings {
		t.add("ruling %s", r)
	}
}

func (t *telling) cases() {
	if len(t.s.Cases) > 0 {
		t.add("")
	}
	for _, c := range t.s.Cases {
		how := "open, to look at: " // holds nothing
		switch {
		case c.Status == "settled" && c.Ruling > 0:
			how = fmt.Sprintf("settled by ruling %d: ", c.Ruling)
		case c.Status == "settled":
			how = "settled: "
		case c.Weight == "hold":
			how = "held for "
		}
		t.add("%s%s", how, c.ID)
		t.add("    %s", c.Says)
	}
}

func (t *telling) passings(title string, list []Split) {
	if title != "" && len(list) > 0 {
		t.add("")
		t.add("%s", title)
	}
	for i := range list {
		q := &list[i]
		t.add("")
		if q.At == "" {
			t.add("%s: no time", t.name(q))
		} else {
			t.add("%s: %s from %s ±%s s", t.name(q), t.clock(q.At), cmp.Or(q.From, "none"), q.PlusMinus)
		}
		t.add("    %s", q.Why)
		for k := range q.Systems {
			t.system(&q.Systems[k])
		}
	}
}

func (t *telling) name(q *Split) string {
	switch q.Split {
	case "":
		return "line " + q.Line
	case q.Line:
		return q.Split
	}
	return q.Split + " at line " + q.Line
}

func (t *telling) system(y *System) {
	if len(y.Reads) == 0 {
		t.add("    %s: %s, %s", y.System, t.clock(y.OnRace), y.Model)
		return
	}
	at := ""
	for _, r := range y.Reads {
		if r.Kept {
			at = fmt.Sprintf(": %s:%d", r.File, r.Line)
		}
	}
	of := "its one read"
	if n := len(y.Reads); n > 1 {
		of = fmt.Sprintf("the %s of its %d reads", y.Kept, n)
	}
	if y.Correction == "0.000" {
		t.add("    %s: %s, %s%s", y.System, t.clock(y.OnRace), of, at)
	} else {
		t.add("    %s: %s = %s on its own clock %s s, %s%s", y.System, t.clock(y.OnRace), t.clock(y.OwnClock), signed(y.Correction), of, at)
	}
	t.add("        %s", y.Model)
}

// reads lists every read of every passing, the kept ones marked.
func (t *telling) reads() {
	titled := false
	for _, list := range [][]Split{t.s.Splits, t.s.Other} {
		for i := range list {
			for _, y := range list[i].Systems {
				if len(y.Reads) == 0 {
					continue
				}
				if !titled {
					t.add("")
					t.add("every read, on its own log's clock; * the one whose time is kept")
					titled = true
				}
				t.add("")
				t.add("%s, %s", t.name(&list[i]), y.System)
				for _, r := range y.Reads {
					t.add("%s", t.read(&r))
				}
			}
		}
	}
}

func (t *telling) read(r *Read) string {
	mark := "   "
	if r.Kept {
		mark = "  *"
	}
	s := fmt.Sprintf("%s %s:%d  %s", mark, r.File, r.Line, t.clock(r.At))
	if r.Antenna != "" {
		s += "  antenna " + r.Antenna
	}
	if len(t.s.Chips) > 1 && r.Tag != "" {
		s += "  " + r.Tag
	}
	if r.RSSI != "" {
		s += "  " + r.RSSI + " dBm"
	}
	return s
}

// signed writes a difference after the number that it is added to.
func signed(s string) string {
	if d, ok := strings.CutPrefix(s, "-"); ok {
		return "− " + d
	}
	return "+ " + s
}

func adjusted(s string) string {
	if s == "" {
		return ""
	}
	return " " + signed(s) + " s as ruled"
}
