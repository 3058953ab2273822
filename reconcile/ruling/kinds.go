package ruling

import (
	"fmt"
	"strconv"
	"strings"

	"twinmat/reconcile/race"
)

// flag is one flag of a kind: its form, and where its value stands in a ruling.
type flag struct {
	name   string
	want   string // what is put in its place in help and errors
	must   bool
	form   form
	field  func(*race.Ruling) *string
	second func(*race.Ruling) *[]string // repeatable
	number func(*race.Ruling) *int
}

// value is what a ruling holds for the flag, "" for nothing; tags stand for all of theirs.
func (f *flag) value(r *race.Ruling) string {
	switch {
	case f.second != nil:
		return strings.Join(tags(r), " ")
	case f.number != nil && *f.number(r) == 0:
		return ""
	case f.number != nil:
		return strconv.Itoa(*f.number(r))
	}
	return *f.field(r)
}

// length writes a length as rulings hold it: with its sign where it may have either.
func (f *flag) length(d race.Millis) string {
	if f.name == "plus-minus" {
		return d.Decimal()
	}
	return signed(d)
}

type form uint8

const (
	word form = iota
	moment
	length
	count
)

// kind is one kind of ruling.
type kind struct {
	name  string
	flags []flag
	does  string
}

func text(name, want string, must bool, field func(*race.Ruling) *string) flag {
	return flag{name: name, want: want, must: must, field: field}
}

func at(name string, must bool, field func(*race.Ruling) *string) flag {
	return flag{name: name, want: "TIME", must: must, form: moment, field: field}
}

func span(name string, must bool, field func(*race.Ruling) *string) flag {
	return flag{name: name, want: "LENGTH", must: must, form: length, field: field}
}

var (
	bib    = text("bib", "BIB", true, func(r *race.Ruling) *string { return &r.Bib })
	line   = text("line", "LINE", true, func(r *race.Ruling) *string { return &r.Line })
	split  = text("split", "SPLIT", true, func(r *race.Ruling) *string { return &r.Split })
	sys    = text("system", "SYSTEM", true, func(r *race.Ruling) *string { return &r.System })
	wave   = text("wave", "WAVE", true, func(r *race.Ruling) *string { return &r.Wave })
	when   = at("at", true, func(r *race.Ruling) *string { return &r.Time })
	fromOf = func(r *race.Ruling) *string { return &r.From }
	toOf   = func(r *race.Ruling) *string { return &r.To }
)

func optional(f flag) flag {
	f.must = false
	return f
}

// kinds are those of the outer surface, in its order.
var kinds = []kind{
	{race.AssignChip, []flag{text("tag", "TAG", true, func(r *race.Ruling) *string { return &r.Tag }), bib, at("from", false, fromOf), at("to", false, toOf)}, "the tag is this bib's"},
	{race.IgnoreChip, []flag{{name: "tag", want: "TAG", must: true, second: func(r *race.Ruling) *[]string { return &r.Tags }}}, "nobody's: a spare, a test chip; --tag may be repeated"},
	{race.VoidReads, []flag{line, optional(sys), at("from", true, fromOf), at("to", true, toOf)}, "no reads there then: tests, transport"},
	{race.AdjustTime, []flag{bib, span("by", true, func(r *race.Ruling) *string { return &r.Shift })}, "a penalty (+2m), a neutralised stop (-12.5s)"},
	{race.CloseCourse, []flag{text("course", "COURSE", true, func(r *race.Ruling) *string { return &r.Course })}, "nobody else will come"},
	{race.SwapBibs, []flag{bib, text("with", "BIB", true, func(r *race.Ruling) *string { return &r.With })}, "the two wore each other's chips"},
	{race.SetGun, []flag{wave, when}, "the gun really went then"},
	{race.SetWave, []flag{bib, wave}, "ran with that wave, and so on its course"},
	{race.Witness, []flag{bib, line, when}, "seen by eye: a read of the hand system"},
	{race.SetTime, []flag{bib, split, when, span("plus-minus", false, func(r *race.Ruling) *string { return &r.PlusMinus })}, "a time from another witness"},
	{race.UseSystem, []flag{bib, split, sys}, "take this system's time for this split"},
	{race.VoidPassing, []flag{bib, line, when}, "this passing didn't happen"},
	{race.SetStatus, []flag{bib, text("status", "dns|dnf|dsq|none", true, func(r *race.Ruling) *string { return &r.Status })}, "did not start, did not finish, disqualified, or none of these"},
	{race.SetClock, []flag{line, optional(sys), span("offset", false, func(r *race.Ruling) *string { return &r.Offset }), at("from", false, fromOf),
		text("stepped", "main|backup", false, func(r *race.Ruling) *string { return &r.Stepped }), text("right", "before|after", false, func(r *race.Ruling) *string { return &r.Right })},
		"a clock decided by hand: --system and --offset, or which clock --stepped and which side is --right"},
	{race.AddAthlete, []flag{bib, wave, text("name", "NAME", false, func(r *race.Ruling) *string { return &r.Name }), text("sex", "SEX", false, func(r *race.Ruling) *string { return &r.Sex }),
		text("birth", "YEAR", false, func(r *race.Ruling) *string { return &r.Birth }), text("category", "CATEGORY", false, func(r *race.Ruling) *string { return &r.Category }),
		text("team", "TEAM", false, func(r *race.Ruling) *string { return &r.Team })}, "someone the list lacks"},
	{race.Accept, []flag{text("suspect", "ID", true, func(r *race.Ruling) *string { return &r.Suspect })}, "looked at, it is right as it stands; opens again when the evidence changes"},
	{race.Undo, []flag{{name: "seq", want: "N", must: true, form: count, number: func(r *race.Ruling) *int { return &r.UndoneSeq }}}, "takes ruling N back"},
}

func kindOf(name string) *kind {
	for i := range kinds {
		if kinds[i].name == name {
			return &kinds[i]
		}
	}
	return nil
}

// Help lists the kinds with their flags.
func Help() string {
	var b strings.Builder
	b.WriteString("Kinds:\n")
	for _, k := range kinds {
		b.WriteString("  " + k.name)
		for _, f := range k.flags {
			form := "--" + f.name + " " + f.want
			if !f.must {
				form = "[" + form + "]"
			}
			b.WriteString(" " + form)
		}
		fmt.Fprintf(&b, "\n      %s\n", k.does)
	}
	b.WriteString("TIME is hh:mm:ss[.fff] on the race's date or RFC 3339; LENGTH like +2m or -12.5s.\n")
	return b.String()
}
