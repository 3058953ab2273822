package plan

import (
	"fmt"
	"time"

	"twinmat/reconcile/race"
)

// Repeats are written out, so their number is bounded for a race and for a plan.
const (
	maxRepeat = 10_000
	maxSplits = 50_000
)

// readCourses reads [[course]] and [[course.split]].
func (s *setup) readCourses(t *table) {
	s.need(t, "course", "at least one [[course]]")
	seen := map[string]int{}
	for _, ct := range s.tables(t, "course", "course") {
		c := race.Course{ID: s.id(ct, seen)}
		c.Sport, _ = s.choose(ct, "sport", "run", sports)
		c.Limit = s.length(ct, "limit", 0, 1, maxLength)
		c.TimeLimit = s.length(ct, "time_limit", 0, 1, maxLength)
		lapped, _ := s.choose(ct, "lapped", "ride-on", []string{"ride-on", "flagged"})
		c.Flagged = lapped == "flagged"
		c.Prizes, _ = s.integer(ct, "prizes", defaultPrizes, 0, 100_000)
		c.Official = s.readOfficial(ct, s.official)
		s.readSplits(ct, &c)
		s.rest(ct)
		s.plan.Courses = append(s.plan.Courses, c)
	}
}

// mark is a split as it stands in the plan, before it is repeated.
type mark struct {
	race.Split
	at        int // where the table stands
	distance  int // where the distance stands, -1: none to be had
	required  *item
	repeat    int
	repeating *item // nil: not repeated
}

func (s *setup) readSplits(ct *table, c *race.Course) {
	s.need(ct, "split", "at least one [[course.split]]")
	tables := s.tables(ct, "split", "course.split")
	seen := map[string]int{}
	before, beforeText := -1.0, ""
	for i, st := range tables {
		m := s.readSplit(st, c.Sport, seen)
		if m.distance >= 0 {
			text := st.named["at"].item.text
			if m.At <= before {
				s.bad(m.distance, "a distance beyond the split before it", "at is %s, the split before it is at %s", quote(text), beforeText)
			} else if m.repeating != nil && m.At == 0 {
				s.bad(m.distance, "the length of a lap, above 0", "at is %s", quote(text))
			}
		}
		if m.repeating != nil && m.repeat == 0 {
			if i < len(tables)-1 {
				s.bad(m.repeating.at, "laps without end as the last split", "repeat is 0, and another split follows")
			}
			if m.required != nil && m.Required {
				s.bad(m.required.at, "required left out where laps have no end", "required with repeat = 0")
			}
		}
		start := max(before, 0)
		s.write(c, m, start, seen)
		if m.distance >= 0 && m.At > before {
			before, beforeText = m.At, quote(st.named["at"].item.text)
			if m.repeating != nil && len(c.Splits) > 0 {
				before = c.Splits[len(c.Splits)-1].At
				beforeText = fmt.Sprintf("%gm after its laps", before)
			}
		}
	}
}

// readSplit reads one [[course.split]].
func (s *setup) readSplit(t *table, sport string, seen map[string]int) mark {
	m := mark{at: t.at, distance: -1}
	m.ID = s.id(t, seen)
	m.Line = s.refer(t, "line", "line", s.lineNames, func(id string) int { return s.plan.LineIndex(id) })
	s.need(t, "at", wantDistance)
	if d, it := read(&s.sheet, t, "at", wantDistance, 0, metres); it != nil {
		if d < 0 {
			s.bad(it.at, "a distance from the start, 0m or more", "at is %s", quote(it.text))
		} else {
			m.At, m.distance = d, it.at
		}
	}
	m.Required, m.required = s.boolean(t, "required")
	m.Sport, _ = s.choose(t, "sport", sport, sports)
	m.Fastest = s.length(t, "fastest", 0, 1, maxLength)
	m.Keep = s.readKeep(t)
	m.repeat, m.repeating = s.integer(t, "repeat", 0, 0, maxRepeat)
	s.rest(t)
	return m
}

// write puts a split on a course, laps written out: lap k is k lap lengths beyond the split before.
func (s *setup) write(c *race.Course, m mark, start float64, seen map[string]int) {
	if m.repeating == nil {
		s.append(c, m, m.Split)
		return
	}
	lap := m.At - start
	c.LapLength = lap
	c.Open = c.Open || m.repeat == 0
	for k := 1; k <= max(m.repeat, 1); k++ {
		p := m.Split
		p.ID = fmt.Sprintf("%s-%d", m.ID, k)
		p.At = start + float64(float64(k)*lap)
		p.Lap = k
		if at, taken := seen[p.ID]; taken && m.ID != "" {
			line, _ := s.doc.place(at)
			s.bad(m.repeating.at, "another id", "lap %d would be called %s, which is a split in line %d", k, quote(p.ID), line)
			return
		}
		if !s.append(c, m, p) {
			return
		}
	}
	if end := start + float64(float64(m.repeat)*lap); end > maxDistance {
		s.bad(m.repeating.at, "fewer or shorter laps", "the laps end at %.0f m", end)
	}
	if m.ID != "" {
		for k := 1; k <= max(m.repeat, 1); k++ {
			seen[fmt.Sprintf("%s-%d", m.ID, k)] = m.at
		}
	}
}

func (s *setup) append(c *race.Course, m mark, p race.Split) bool {
	if s.written >= maxSplits {
		if s.written == maxSplits {
			s.bad(m.at, fmt.Sprintf("at most %d splits, laps counted", maxSplits), "one split too many")
		}
		s.written = maxSplits + 1
		return false
	}
	s.written++
	c.Splits = append(c.Splits, p)
	return true
}

// refer takes a required key that names something by its id; 0 where it doesn't.
func (s *setup) refer(t *table, name, what string, known []string, find func(string) int) int {
	want := "the id of a " + what
	if len(known) > 0 {
		want += ": " + oneOf(known)
	}
	s.need(t, name, want)
	v, it := s.text(t, name, want)
	if it == nil {
		return 0
	}
	i := find(v)
	if i < 0 {
		s.bad(it.at, want, "there is no %s %s%s", what, quote(v), nearest(v, known))
		return 0
	}
	return i
}

// A gun further from the race's day than a stage race lasts was left from another year.
const maxDaysAway = 31

func daysBetween(from, to time.Time) int {
	utc := func(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }
	return int(utc(to).Sub(utc(from)).Hours() / 24)
}

// readWaves reads [[wave]].
func (s *setup) readWaves(t *table) {
	s.need(t, "wave", "at least one [[wave]]")
	var courses []string
	for _, c := range s.plan.Courses {
		if c.ID != "" {
			courses = append(courses, c.ID)
		}
	}
	seen := map[string]int{}
	for _, wt := range s.tables(t, "wave", "wave") {
		w := race.Wave{ID: s.id(wt, seen)}
		w.Course = s.refer(wt, "course", "course", courses, func(id string) int { return s.plan.CourseIndex(id) })
		gun, it := s.instant(wt, "gun", s.plan)
		w.Gun = gun
		if it != nil && s.dated {
			if days := daysBetween(s.plan.Date, gun.Time(s.plan.Zone)); days > maxDaysAway || days < -maxDaysAway {
				s.warn(it.at, "a gun on the race's day or near it", "gun is %d days from the race's date", days)
			}
		}
		w.Early = s.length(wt, "early", defaultEarly, 0, hour)
		s.rest(wt)
		s.plan.Waves = append(s.plan.Waves, w)
		s.waves = append(s.waves, wt.at)
		if w.ID != "" {
			s.waveNames = append(s.waveNames, w.ID)
		}
	}
}
