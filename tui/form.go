package tui

import (
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"twinmat/reconcile/race"
)

// A form makes one ruling from a few fields. Enter goes to what is missing, then shows
// the effect, then saves.
type form struct {
	*sight
	kind   string
	title  string
	fields []blank
	at     int
	trial  trial
	tried1 string // the line and reason that the trial is of

	about *race.Suspect // the case under the cursor, whose evidence is the reason as long as the form is of its bib or chip; nil: none
}

// A blank is one field of a form.
type blank struct {
	label, flag, hint string
	optional          bool
	offers            func(b *book) []string // what may stand here, nil: anything
	field             field
	given             string // what stands there without being typed: known, or offered
}

// give puts what nobody typed.
func (b *blank) give(s string) {
	b.field.set(s)
	b.given = s
}

// blanksOf are the title of a ruling's form and its fields in order.
func blanksOf(kind string) (title string, fields []blank) {
	bib := blank{label: "bib", flag: "--bib", hint: "whose"}
	why := blank{label: "reason", flag: "--why", hint: "why, for who asks in two days"}
	line := blank{label: "line", flag: "--line", offers: lineIDs}
	at := blank{label: "at", flag: "--at", hint: "hh:mm:ss.fff on the race clock"}
	switch kind {
	case race.AssignChip:
		return "give a chip to a bib", []blank{{label: "chip", flag: "--tag", hint: "as printed by the reader"}, bib, why}
	case race.IgnoreChip:
		return "a chip that is nobody's", []blank{{label: "chip", flag: "--tag", hint: "a spare, a test chip"}, why}
	case race.SetTime:
		return "a time from another witness", []blank{bib, {label: "split", flag: "--split", hint: "which split"}, at, why}
	case race.UseSystem:
		return "take a system's time", []blank{bib, {label: "split", flag: "--split", hint: "which split"},
			{label: "system", flag: "--system", offers: func(*book) []string { return race.SystemNames }}, why}
	case race.VoidPassing:
		return "this passing didn't happen", []blank{bib, line, at, why}
	case race.SetStatus:
		return "set a status", []blank{bib, {label: "status", flag: "--status", offers: func(*book) []string { return append(slices.Clone(race.Statuses), race.NoStatus) }}, why}
	case race.SetWave:
		return "ran with another wave", []blank{bib, {label: "wave", flag: "--wave", offers: waveIDs}, why}
	case race.SwapBibs:
		return "two wore each other's chips", []blank{bib, {label: "with", flag: "--with", hint: "the other bib"}, why}
	case race.AdjustTime:
		return "a penalty or a stop", []blank{bib, {label: "by", flag: "--by", hint: "+2m, -12.5s"}, why}
	case race.AddAthlete:
		return "someone the list lacks", []blank{bib, {label: "wave", flag: "--wave", offers: waveIDs},
			{label: "name", hint: "as it shall be read out", optional: true}, why}
	case race.CloseCourse:
		return "nobody else will come", []blank{{label: "course", flag: "--course", offers: courseIDs}, why}
	}
	return "", nil
}

func lineIDs(b *book) []string {
	var out []string
	for i := range b.Plan.Lines {
		out = append(out, b.Plan.Lines[i].ID)
	}
	return out
}

func waveIDs(b *book) []string {
	var out []string
	for i := range b.Plan.Waves {
		out = append(out, b.Plan.Waves[i].ID)
	}
	return out
}

func courseIDs(b *book) []string {
	var out []string
	for i := range b.Plan.Courses {
		out = append(out, b.Plan.Courses[i].ID)
	}
	return out
}

// openForm opens the form of a ruling with what is known filled in, the cursor on the
// first thing that isn't.
func (m *root) openForm(kind string, known map[string]string) tea.Cmd {
	title, fields := blanksOf(kind)
	f := &form{sight: m.sight, kind: kind, title: title, fields: fields}
	if d, ok := m.screen().(*desk); ok && m.top() == nil {
		f.about = d.selected()
	}
	for i := range f.fields {
		b := &f.fields[i]
		v, ok := known[b.flag]
		if !ok && b.offers != nil {
			if o := b.offers(f.book); len(o) == 1 {
				v = o[0]
			}
		}
		b.give(v)
	}
	f.offer()
	f.at = max(f.missing(), 0)
	m.push(f)
	return nil
}

// offer puts what the case tells where the form is of its bib or its chip, and takes it away
// where it no longer is: in two days it would be the reason of another's ruling.
func (f *form) offer() {
	if f.about == nil {
		return
	}
	bib, chip := f.value("bib"), f.value("chip")
	of := chip != "" && chip == f.about.Tag || slices.Contains(f.about.Bibs, bib)
	switch why := f.value("reason"); {
	case of && why == "":
		f.reason(f.about.Says)
	case !of && why == strings.TrimSpace(f.about.Says):
		f.reason("")
	}
}

// missing is the first field that must be filled and isn't, -1 for none.
func (f *form) missing() int {
	for i := range f.fields {
		if b := &f.fields[i]; !b.optional && strings.TrimSpace(b.field.String()) == "" && b.flag != "--why" {
			return i
		}
	}
	return -1
}

// line is the ruling as arguments of `rule`, without the reason, which is set as it is.
func (f *form) line() string {
	parts := []string{f.kind}
	for i := range f.fields {
		b := &f.fields[i]
		if v := strings.TrimSpace(b.field.String()); v != "" && b.flag != "--why" && b.flag != "" {
			parts = append(parts, b.flag, race.Arg(v))
		}
	}
	return strings.Join(parts, " ")
}

func (f *form) value(label string) string {
	for i := range f.fields {
		if f.fields[i].label == label {
			return strings.TrimSpace(f.fields[i].field.String())
		}
	}
	return ""
}

// complete finishes what was begun when only one of the offers begins so.
func (f *form) complete() {
	b := &f.fields[f.at]
	v := strings.TrimSpace(b.field.String())
	if b.offers == nil || v == "" {
		return
	}
	found := ""
	for _, o := range b.offers(f.book) {
		if o == v {
			return
		}
		if strings.HasPrefix(strings.ToLower(o), strings.ToLower(v)) {
			if found != "" {
				return
			}
			found = o
		}
	}
	if found != "" {
		b.field.set(found)
	}
}

func (f *form) step(by int) {
	f.complete()
	f.at = (f.at + by + len(f.fields)) % len(f.fields)
}

// enter does the next thing: the missing field, the effect, the ruling.
func (f *form) enter(m *root) tea.Cmd {
	f.complete()
	if i := f.missing(); i >= 0 {
		if i == f.at {
			m.tell(warn, "%s is needed", f.fields[i].label)
		}
		f.at = i
		return nil
	}
	if f.trial.state == untried || f.trial.state == refused || f.tried1 != f.line()+f.value("name") {
		if f.value("reason") == "" {
			f.reason("ruled at the console")
		}
		f.tried1 = f.line() + f.value("name")
		name := f.value("name")
		return m.try(&f.trial, func(_ int, r *race.Ruling) {
			if name != "" {
				r.Name = name
			}
		}, f.line())
	}
	if why := f.trial.why(); why != "" {
		m.tell(warn, "%s", why)
		return nil
	}
	r := f.trial.ruling()
	r.Why = f.value("reason")
	if r.Why == "" {
		f.at = len(f.fields) - 1
		m.tell(warn, "a ruling needs its reason")
		return nil
	}
	m.pop()
	return m.save(saving{ruling: r, words: f.trial.words})
}

func (f *form) reason(s string) {
	for i := range f.fields {
		if f.fields[i].flag == "--why" {
			f.fields[i].give(s)
		}
	}
}

func (f *form) scope() scope  { return inForm }
func (f *form) sync()         {}
func (f *form) tried() *trial { return &f.trial }
func (f *form) typing() bool  { return true }
func (f *form) bib() string   { return f.value("bib") }

func (f *form) typed(_ *root, k tea.KeyMsg) (tea.Cmd, bool) {
	ok := f.fields[f.at].field.key(k)
	if f.fields[f.at].flag != "--why" {
		f.offer()
	}
	return nil, ok
}

// begun tells whether leaving would lose something typed.
func (f *form) begun() bool {
	return slices.ContainsFunc(f.fields, func(b blank) bool {
		s := strings.TrimSpace(b.field.String())
		return s != "" && s != strings.TrimSpace(b.given)
	})
}

func (f *form) View(w, h int) string {
	p := newPage(f.look, w, h)
	p.line().put(strong, f.title).put(muted, "   "+f.kind)
	p.line()
	for i := range f.fields {
		b := &f.fields[i]
		r := p.line()
		if i == f.at {
			r.put(accent, f.look.pick)
		} else {
			r.gap(1)
		}
		r.cell(head, b.label, 8).gap(1)
		n := max(w-12, 10)
		if b.hint != "" || b.offers != nil {
			n = max(w/2-10, 10)
		}
		b.field.draw(r, n, i == f.at)
		r.gap(2).put(muted, f.hint(b))
	}
	p.line()
	if f.trial.state == untried || f.tried1 != f.line()+f.value("name") {
		p.prose(muted, "enter shows what this would change; nothing is saved before you have seen it", h)
		return p.String()
	}
	if f.trial.words != "" {
		p.prose(strong, f.trial.words, 2)
	}
	f.trial.draw(p, p.left()-1)
	if f.trial.state == ready {
		p.say(good, "enter saves it")
	}
	return p.String()
}

// hint says who a bib is, or what may stand in a field.
func (f *form) hint(b *blank) string {
	v := strings.TrimSpace(b.field.String())
	if b.label == "bib" || b.label == "with" {
		if r := f.book.result(v); r != nil {
			return strings.Join([]string{r.Name, r.Team, r.State}, "  ")
		}
		if v != "" && f.kind != race.AddAthlete {
			return "not on the list"
		}
	}
	if b.label == "split" {
		if r := f.book.result(f.value("bib")); r != nil {
			var ids []string
			for i := range r.Splits {
				ids = append(ids, r.Splits[i].ID)
			}
			return listed(ids, 12)
		}
	}
	if b.offers != nil {
		return strings.Join(b.offers(f.book), " ")
	}
	return b.hint
}
