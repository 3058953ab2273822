package plan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"twinmat/reconcile/race"
)

// sheet takes typed values out of a document and reports those that aren't what they should be.
type sheet struct {
	doc    *document
	found  *problems
	faulty bool
}

func (s *sheet) bad(at int, want, what string, args ...any) {
	s.faulty = true
	if s.found.full(false) {
		s.found.over++
		return
	}
	line, column := s.doc.place(at)
	s.found.add(Problem{File: TomlFile, Line: line, Column: column, What: fmt.Sprintf(what, args...), Want: want})
}

func (s *sheet) warn(at int, want, what string, args ...any) {
	s.found.add(s.warning(at, want, what, args))
}

// later warns of what comes by itself by the time of the race.
func (s *sheet) later(at int, want, what string, args ...any) {
	p := s.warning(at, want, what, args)
	p.Later = true
	s.found.add(p)
}

// mild warns of what is odd and harms nobody's time.
func (s *sheet) mild(at int, want, what string, args ...any) {
	p := s.warning(at, want, what, args)
	p.Mild = true
	s.found.add(p)
}

func (s *sheet) warning(at int, want, what string, args []any) Problem {
	line, column := s.doc.place(at)
	return Problem{File: TomlFile, Line: line, Column: column, What: fmt.Sprintf(what, args...), Want: want, Warning: true}
}

// places tells where in race.toml things stand.
func (s *sheet) places(at []int) []Place {
	out := make([]Place, len(at))
	for i, a := range at {
		out[i].Line, out[i].Column = s.doc.place(a)
	}
	return out
}

// badValue reports what a reader of values said.
func (s *sheet) badValue(at int, key string, err error) {
	var f *fault
	if errors.As(err, &f) {
		s.bad(at, f.want, "%s: %s", key, f.what)
		return
	}
	s.bad(at, "", "%s: %s", key, err)
}

// has tells whether a table has a key, be its value good or not.
func (t *table) has(name string) bool { return t.named[name] != nil }

// take finds a key's value and notes that the key is a known one. Nil: there is none, or one
// that was reported already.
func (s *sheet) take(t *table, name string) *item {
	t.asked = append(t.asked, name)
	k := t.named[name]
	if k == nil {
		return nil
	}
	k.used = true
	if s.doc.faults && k.item.kind == unstable.String && k.item.text == poison {
		return nil
	}
	return k.item
}

// need reports a key that must be there and isn't.
func (s *sheet) need(t *table, name, want string) {
	if !t.has(name) {
		s.bad(t.at, want, "%s has no %s", called(t), name)
	}
}

// called is what a table is called in a sentence.
func called(t *table) string {
	if t.name == "" {
		return TomlFile
	}
	return "this " + t.name
}

// rest reports the keys that nobody asked for.
func (s *sheet) rest(t *table) {
	for _, k := range t.keys {
		if k.used || strings.HasPrefix(k.name, poison) {
			continue
		}
		if s.found.full(false) {
			s.found.over++
			s.faulty = true
		} else {
			s.bad(k.at, "one of "+strings.Join(t.asked, ", "), "unknown key %s%s", quote(k.name), nearest(k.name, t.asked))
		}
	}
}

// shown is how a value is told in a message.
func shown(it *item) string {
	switch it.kind {
	case unstable.String:
		return "the text " + quote(it.text)
	case unstable.Array:
		if len(it.list) > 0 && it.list[0].sub != nil {
			return "a list of tables"
		}
		return "a list"
	case unstable.InlineTable:
		return "a table"
	case unstable.Integer, unstable.Float:
		return "the number " + it.text
	case unstable.Bool:
		return it.text
	case unstable.LocalDate:
		return "the date " + it.text
	}
	return "the time " + it.text
}

// text takes a text value.
func (s *sheet) text(t *table, name, want string) (string, *item) {
	it := s.take(t, name)
	if it == nil {
		return "", nil
	}
	if it.kind != unstable.String {
		if it.kind == unstable.Integer || it.kind == unstable.Float {
			want += " (in quotes)"
		}
		s.bad(it.at, want, "%s is %s", name, shown(it))
		return "", nil
	}
	return it.text, it
}

// read takes a text value through a reader of its form; without one it is def.
func read[T any](s *sheet, t *table, name, want string, def T, reader func(string) (T, error)) (T, *item) {
	text, it := s.text(t, name, want)
	if it == nil {
		return def, nil
	}
	v, err := reader(text)
	if err != nil {
		s.badValue(it.at, name, err)
		return def, nil
	}
	return v, it
}

// length takes a length of time between bounds, both included.
func (s *sheet) length(t *table, name string, def, least, most race.Millis) race.Millis {
	v, it := read(s, t, name, wantLength, def, Length)
	if it != nil && (v < least || v > most) {
		s.bad(it.at, fmt.Sprintf("from %s to %s", plain(least), plain(most)), "%s is %s", name, quote(it.text))
		return def
	}
	return v
}

// plain writes a length of time as a plan would.
func plain(d race.Millis) string {
	switch {
	case d%3600_000 == 0 && d != 0:
		return fmt.Sprintf("%dh", d/3600_000)
	case d%60_000 == 0 && d != 0:
		return fmt.Sprintf("%dm", d/60_000)
	}
	return strconv.FormatFloat(float64(d)/1000, 'f', -1, 64) + "s"
}

// choose takes one of several words, def when there is none.
func (s *sheet) choose(t *table, name, def string, words []string) (string, *item) {
	v, it := s.text(t, name, oneOf(words))
	if it == nil {
		return def, nil
	}
	for _, w := range words {
		if v == w {
			return v, it
		}
	}
	s.bad(it.at, oneOf(words), "%s is %s%s", name, quote(v), nearest(v, words))
	return def, nil
}

func (s *sheet) boolean(t *table, name string) (bool, *item) {
	it := s.take(t, name)
	if it == nil {
		return false, nil
	}
	if it.kind != unstable.Bool {
		s.bad(it.at, "true or false (without quotes)", "%s is %s", name, shown(it))
		return false, nil
	}
	return it.text == "true", it
}

// integer takes a whole number between bounds, both included.
func (s *sheet) integer(t *table, name string, def, least, most int) (int, *item) {
	it := s.take(t, name)
	if it == nil {
		return def, nil
	}
	want := fmt.Sprintf("a whole number from %d to %d", least, most)
	if it.kind != unstable.Integer {
		s.bad(it.at, want+" (without quotes)", "%s is %s", name, shown(it))
		return def, nil
	}
	v, err := strconv.ParseInt(strings.ReplaceAll(it.text, "_", ""), 0, 64)
	if err != nil || v < int64(least) || v > int64(most) {
		s.bad(it.at, want, "%s is %s", name, it.text)
		return def, nil
	}
	return int(v), it
}

// instant takes a time of day on the race's date or a date with time, in TOML's own forms or as a text.
func (s *sheet) instant(t *table, name string, p *race.Plan) (race.Instant, *item) {
	it := s.take(t, name)
	if it == nil {
		return race.NoInstant, nil
	}
	switch it.kind {
	case unstable.LocalTime, unstable.LocalDateTime, unstable.DateTime, unstable.String:
	default:
		s.bad(it.at, wantInstant, "%s is %s", name, shown(it))
		return race.NoInstant, nil
	}
	v, err := Instant(p, it.text)
	if err != nil {
		s.badValue(it.at, name, err)
		return race.NoInstant, nil
	}
	return v, it
}

// span takes from and to, of which either may be missing.
func (s *sheet) span(t *table, p *race.Plan) (from, to race.Instant) {
	from, _ = s.instant(t, "from", p)
	to, it := s.instant(t, "to", p)
	if from.Known() && to.Known() && to <= from {
		s.bad(it.at, "a time after from; a full date and time when the span crosses midnight", "to is not after from")
	}
	return from, to
}

// id takes a required id and reports one that is taken; seen holds where each stood.
func (s *sheet) id(t *table, seen map[string]int) string {
	s.need(t, "id", wantID)
	v, it := s.text(t, "id", wantID)
	if it == nil {
		return ""
	}
	if err := checkID(v); err != nil {
		s.badValue(it.at, "id", err)
		return ""
	}
	if at, taken := seen[v]; taken {
		line, _ := s.doc.place(at)
		s.bad(it.at, "another id", "the id %s is taken by the %s in line %d", quote(v), t.name, line)
		return v
	}
	seen[v] = it.at
	return v
}

// sub takes a table.
func (s *sheet) sub(t *table, name string) *table {
	it := s.take(t, name)
	if it == nil {
		return newTable(t.at, name)
	}
	if it.sub == nil {
		s.bad(it.at, fmt.Sprintf("a table headed [%s]", name), "%s is %s", name, shown(it))
		return newTable(it.at, name)
	}
	return it.sub
}

// tables takes a list of tables. A single [line] is reported and read all the same.
func (s *sheet) tables(t *table, name, head string) []*table {
	it := s.take(t, name)
	want := fmt.Sprintf("[[%s]]", head)
	switch {
	case it == nil:
		return nil
	case it.sub != nil:
		s.bad(it.sub.at, want, "%s stands in single brackets", name)
		it.sub.name = name
		return []*table{it.sub}
	case it.kind != unstable.Array:
		s.bad(it.at, "a list of tables headed "+want, "%s is %s", name, shown(it))
		return nil
	}
	var list []*table
	for _, e := range it.list {
		if e.sub == nil {
			s.bad(e.at, "a list of tables headed "+want, "%s holds %s", name, shown(e))
			continue
		}
		e.sub.name = name
		list = append(list, e.sub)
	}
	return list
}
