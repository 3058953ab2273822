package plan

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// A chip changes hands a few times a day.
const maxSpans = 200

// A spreadsheet shows long tags as 3.00833E+23 and saves what it shows.
var rounded = regexp.MustCompile(`^[0-9]([.,][0-9]+)?[eE]\+[0-9]{1,3}$`)

// readLists makes athletes and chips; nil stands for a list that isn't there.
func readLists(r *Race, s *setup, athletes, chips []byte) {
	l := roster{setup: s, bibs: map[string]int{}}
	if athletes != nil {
		r.Athletes = l.readAthletes(athletes)
	}
	if chips != nil {
		r.Chips = l.readChips(chips, athletes != nil)
		r.ZerosDropped = len(r.Chips) > 0
		for _, c := range r.Chips {
			r.ZerosDropped = r.ZerosDropped && c.Tag[0] != '0'
		}
		if athletes != nil {
			l.withoutChip(r)
		}
	}
}

// roster is the lists on their way in.
type roster struct {
	*setup
	athletes *list
	bibs     map[string]int // bib to its record's offset
}

func (o *roster) readAthletes(b []byte) []race.Athlete {
	l := readList(o.found, AthletesFile, b, []string{"bib", "wave"}, []string{"name", "sex", "birth", "category", "team", "status", "start"})
	o.athletes = l
	var list []race.Athlete
	waves := map[string]int{}
	for i, w := range o.plan.Waves {
		if _, twice := waves[w.ID]; w.ID != "" && !twice {
			waves[w.ID] = i
		}
	}
	// With a wave that has no readable id, an unknown one may well be that.
	doubt := len(o.plan.Waves) == 0 || len(o.waveNames) < len(o.plan.Waves)
	for _, r := range l.rows {
		if !l.width(r) {
			o.bibs[l.get(r, "bib").text] = r.at
			continue
		}
		a := race.Athlete{Name: l.get(r, "name").text, Category: l.get(r, "category").text, Team: l.get(r, "team").text, Start: race.NoInstant}
		sound := o.readBib(l, r, &a)
		sound = o.readWave(l, r, &a, waves, doubt) && sound
		o.readPerson(l, r, &a)
		sound = o.readStanding(l, r, &a) && sound
		if sound {
			list = append(list, a)
		}
	}
	if len(l.rows) == 0 && !l.bad {
		l.warn(0, "a row for each athlete", "no athlete is listed")
	}
	return list
}

func (o *roster) readBib(l *list, r record, a *race.Athlete) bool {
	if !l.ready("bib") {
		return false
	}
	c := l.get(r, "bib")
	if err := checkBib(c.text); err != nil {
		f, _ := errors.AsType[*fault](err)
		l.fault(c.at, f.want, "bib: %s", f.what)
		return false
	}
	if at, twice := o.bibs[c.text]; twice {
		line, _ := l.place(at)
		l.fault(c.at, "each bib once", "bib %s stands in line %d already", c.text, line)
		return false
	}
	o.bibs[c.text] = c.at
	a.Bib = c.text
	return true
}

func (o *roster) readWave(l *list, r record, a *race.Athlete, waves map[string]int, doubt bool) bool {
	if !l.ready("wave") {
		return false
	}
	c := l.get(r, "wave")
	i, known := waves[c.text]
	switch {
	case known:
		a.Wave = i
		return true
	case doubt && c.text != "":
	case c.text == "":
		l.fault(c.at, "one of the waves of race.toml: "+oneOf(o.waveNames), "the wave is empty")
	default:
		l.fault(c.at, "one of the waves of race.toml: "+oneOf(o.waveNames), "there is no wave %s%s", quote(c.text), nearest(c.text, o.waveNames))
	}
	return false
}

// readPerson reads what changes no time: oddities are told and kept.
func (o *roster) readPerson(l *list, r record, a *race.Athlete) {
	sex := l.get(r, "sex")
	a.Sex = sex.text
	if len(sex.text) > 16 || strings.ContainsAny(sex.text, "0123456789") {
		l.mild(sex.at, "a sex such as m, f or x: sexes are ranked apart", "the sex is %s", quote(sex.text))
	}
	born := l.get(r, "birth")
	a.Birth = born.text
	if born.text != "" && !race.IsBirth(born.text) {
		l.mild(born.at, "a year or a date: 1986 or 1986-03-14", "the birth is %s", quote(born.text))
	}
	for _, name := range []string{"name", "category", "team"} {
		c := l.get(r, name)
		if bad := firstControl(c.text); bad != 0 {
			l.mild(c.at, "text that can be shown", "the %s %s has the character %q", name, quote(c.text), bad)
		}
	}
}

// readStanding reads status and own gun.
func (o *roster) readStanding(l *list, r record, a *race.Athlete) bool {
	sound := true
	c := l.get(r, "status")
	a.Status = strings.ToLower(c.text)
	if a.Status != "" && !slices.Contains(race.Statuses, a.Status) {
		l.fault(c.at, "dns, dnf, dsq or nothing", "the status is %s", quote(c.text))
		sound = false
	}
	return o.when(l, r, "start", &a.Start) && sound
}

// when reads a time of a list, if there is one.
func (o *roster) when(l *list, r record, name string, to *race.Instant) bool {
	c := l.get(r, name)
	if c.text == "" {
		return true
	}
	at, err := Instant(o.plan, c.text)
	if err != nil {
		f, _ := errors.AsType[*fault](err)
		l.fault(c.at, f.want, "%s: %s", name, f.what)
		return false
	}
	*to = at
	return true
}

// worn is a chip with its place.
type worn struct {
	race.Chip
	at int
}

func (o *roster) readChips(b []byte, listed bool) []race.Chip {
	l := readList(o.found, ChipsFile, b, []string{"tag", "bib"}, []string{"from", "to"})
	var list []race.Chip
	byTag := map[string][]worn{}
	for _, r := range l.rows {
		if !l.width(r) || !l.ready("tag", "bib") {
			continue
		}
		c, sound := o.readChip(l, r)
		if !sound {
			continue
		}
		at := l.get(r, "bib").at
		if _, there := o.bibs[c.Bib]; listed && o.athletes.ready("bib") && !there {
			l.warn(at, "a bib of athletes.csv", "bib %s of chip %s is not listed", c.Bib, quote(l.get(r, "tag").text))
		}
		if o.alone(l, r, c, byTag[c.Tag]) {
			byTag[c.Tag] = append(byTag[c.Tag], worn{c, r.at})
			list = append(list, c)
		}
	}
	if len(l.rows) == 0 && !l.bad {
		l.warn(0, "a row for each chip", "no chip is listed")
	}
	return list
}

// readChip reads one row. A chip without a bib is a spare, and no row of ours.
func (o *roster) readChip(l *list, r record) (race.Chip, bool) {
	c := race.Chip{From: race.NoInstant, To: race.NoInstant}
	tag, bib := l.get(r, "tag"), l.get(r, "bib")
	c.Tag, c.Bib = race.CanonicalTag(tag.text), bib.text
	sound := true
	switch {
	case rounded.MatchString(tag.text):
		l.fault(tag.at, "the whole tag; make the column text before opening the list in a spreadsheet", "the tag %s was rounded by a spreadsheet", quote(tag.text))
		sound = false
	case c.Tag == "":
		l.fault(tag.at, "the tag's code as the reader prints it", "the tag is empty")
		sound = false
	case len(c.Tag) > 256 || firstControl(c.Tag) != 0:
		l.fault(tag.at, "the tag's code as the reader prints it", "the tag is %s", quote(tag.text))
		sound = false
	}
	if bib.text == "" {
		l.mild(bib.at, "the bib that wears it", "chip %s has no bib: nobody's", quote(tag.text))
		sound = false
	} else if err := checkBib(bib.text); err != nil {
		f, _ := errors.AsType[*fault](err)
		l.fault(bib.at, f.want, "bib: %s", f.what)
		sound = false
	}
	sound = o.when(l, r, "from", &c.From) && sound
	sound = o.when(l, r, "to", &c.To) && sound
	if c.From.Known() && c.To.Known() && c.To <= c.From {
		l.fault(l.get(r, "to").at, "a time after from; with its date when the span crosses midnight", "to is not after from")
		sound = false
	}
	return c, sound
}

// alone tells whether a chip is nobody else's at any time, and not listed twice for its own bib.
func (o *roster) alone(l *list, r record, c race.Chip, others []worn) bool {
	if len(others) >= maxSpans {
		l.fault(r.at, fmt.Sprintf("a chip in at most %d rows", maxSpans), "chip %s again", quote(l.get(r, "tag").text))
		return false
	}
	for _, w := range others {
		if !overlap(c.From, c.To, w.From, w.To) {
			continue
		}
		line, _ := l.place(w.at)
		tag := l.get(r, "tag")
		if w.Bib != c.Bib {
			l.fault(tag.at, "one bib a chip, or from and to that part them", "chip %s is on bib %s and, in line %d, on bib %s at the same time",
				quote(tag.text), c.Bib, line, w.Bib)
			return false
		}
		if w.From == c.From && w.To == c.To {
			l.warn(tag.at, "each chip once", "chip %s stands in line %d already", quote(tag.text), line)
			return false
		}
	}
	return true
}

// withoutChip warns of athletes whom no chip can bring in.
func (o *roster) withoutChip(r *Race) {
	chipped := map[string]bool{}
	for _, c := range r.Chips {
		chipped[c.Bib] = true
	}
	for _, a := range r.Athletes {
		if !chipped[a.Bib] && a.Status != race.DNS {
			o.athletes.warn(o.bibs[a.Bib], "a row in chips.csv", "bib %s has no chip", a.Bib)
		}
	}
}
