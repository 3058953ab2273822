package ruling

import (
	"fmt"
	"strconv"
	"strings"

	"twinmat/reconcile/race"
)

// Parse reads one ruling from the flags of its kind. Moments are brought to RFC 3339 in the
// race's zone, lengths to signed seconds.
func Parse(name string, args []string, p *race.Plan) (race.Ruling, error) {
	r := race.Ruling{Rule: name}
	k := kindOf(name)
	if k == nil {
		return r, fmt.Errorf("%q is no kind of ruling; want one of %s", name, strings.Join(race.Kinds, ", "))
	}
	given := map[string]bool{}
	for i := 0; i < len(args); i++ {
		name, value, inline := strings.Cut(args[i], "=")
		if !strings.HasPrefix(name, "--") {
			return r, fmt.Errorf("%s: %q is no flag", k.name, args[i])
		}
		name = strings.TrimPrefix(name, "--")
		if !inline {
			if i+1 >= len(args) {
				return r, fmt.Errorf("%s: --%s lacks its value", k.name, name)
			}
			i++
			value = args[i]
		}
		if err := k.set(&r, p, name, value, given); err != nil {
			return r, fmt.Errorf("%s: %w", k.name, err)
		}
	}
	for _, f := range k.flags {
		if f.must && !given[f.name] {
			return r, fmt.Errorf("%s lacks --%s %s", k.name, f.name, f.want)
		}
	}
	return r, nil
}

func (k *kind) set(r *race.Ruling, p *race.Plan, name, value string, given map[string]bool) error {
	if name == "why" {
		r.Why = value
		return nil
	}
	for _, f := range k.flags {
		if f.name != name {
			continue
		}
		if given[name] && f.second == nil {
			return fmt.Errorf("--%s stands twice", name)
		}
		given[name] = true
		if strings.TrimSpace(value) == "" {
			return fmt.Errorf("--%s is empty; want %s", name, f.want)
		}
		return f.take(r, p, value)
	}
	return fmt.Errorf("there is no --%s; it takes %s", name, k.flagNames())
}

func (f *flag) take(r *race.Ruling, p *race.Plan, value string) error {
	switch {
	case f.second != nil:
		*f.second(r) = append(*f.second(r), value)
	case f.number != nil:
		n, err := strconv.Atoi(value)
		if err != nil {
			return fmt.Errorf("--%s %q is no whole number", f.name, value)
		}
		*f.number(r) = n
	case f.form == moment:
		t, err := Moment(p, value)
		if err != nil {
			return fmt.Errorf("--%s %w", f.name, err)
		}
		*f.field(r) = t.Format(p.Zone)
	case f.form == length:
		d, err := Length(value)
		if err != nil {
			return fmt.Errorf("--%s %w", f.name, err)
		}
		*f.field(r) = signed(d)
	default:
		*f.field(r) = value
	}
	return nil
}

func (k *kind) flagNames() string {
	var names []string
	for _, f := range k.flags {
		names = append(names, "--"+f.name)
	}
	return strings.Join(append(names, "--why"), ", ")
}

// ParseLine reads a ruling written on one line, as proposals are: the kind, then its flags,
// quoted as a shell would.
func ParseLine(s string, p *race.Plan) (race.Ruling, error) {
	words, err := words(s)
	if err != nil {
		return race.Ruling{}, err
	}
	if len(words) == 0 {
		return race.Ruling{}, fmt.Errorf("no ruling stands here")
	}
	return Parse(words[0], words[1:], p)
}

// words splits a line at spaces; quotes and backslashes hold one together.
func words(s string) ([]string, error) {
	var out []string
	var b strings.Builder
	open, begun, quote := false, false, rune(0)
	for _, c := range s {
		switch {
		case open:
			b.WriteRune(c)
			open = false
		case c == '\\' && quote != '\'':
			open, begun = true, true
		case quote != 0:
			if c == quote {
				quote = 0
			} else {
				b.WriteRune(c)
			}
		case c == '\'' || c == '"':
			quote, begun = c, true
		case c == ' ' || c == '\t':
			if begun {
				out = append(out, b.String())
				b.Reset()
				begun = false
			}
		default:
			b.WriteRune(c)
			begun = true
		}
	}
	if quote != 0 || open {
		return nil, fmt.Errorf("a quote is never closed in %q", s)
	}
	if begun {
		out = append(out, b.String())
	}
	return out, nil
}

// Args is the inverse of Parse, without the reason.
func Args(r *race.Ruling) []string {
	k := kindOf(r.Rule)
	if k == nil {
		return nil
	}
	out := []string{r.Rule}
	for _, f := range k.flags {
		switch {
		case f.second != nil:
			tags := *f.second(r)
			if r.Tag != "" {
				tags = append([]string{r.Tag}, tags...)
			}
			for _, t := range tags {
				out = append(out, "--"+f.name, t)
			}
		case f.number != nil:
			out = append(out, "--"+f.name, strconv.Itoa(*f.number(r)))
		default:
			if v := *f.field(r); v != "" {
				out = append(out, "--"+f.name, v)
			}
		}
	}
	return out
}

// Words is a ruling as a person would say it.
func Words(r *race.Ruling) string {
	switch r.Rule {
	case race.AssignChip:
		s := fmt.Sprintf("chip %s is bib %s's", r.Tag, r.Bib)
		if r.From != "" {
			s += " from " + r.From
		}
		if r.To != "" {
			s += " to " + r.To
		}
		return s
	case race.IgnoreChip:
		return "nobody wears " + strings.Join(append(nonEmpty(r.Tag), r.Tags...), ", ")
	case race.VoidReads:
		of := "any system"
		if r.System != "" {
			of = r.System
		}
		return fmt.Sprintf("what %s read at %s from %s to %s counts for nothing", of, r.Line, r.From, r.To)
	case race.AdjustTime:
		return fmt.Sprintf("%s's time is adjusted by %s s", r.Bib, r.Shift)
	case race.CloseCourse:
		return "nobody else will come on " + r.Course
	case race.SwapBibs:
		return fmt.Sprintf("%s and %s wore each other's chips", r.Bib, r.With)
	case race.SetGun:
		return fmt.Sprintf("wave %s's gun went at %s", r.Wave, r.Time)
	case race.SetWave:
		return fmt.Sprintf("%s ran with wave %s", r.Bib, r.Wave)
	case race.Witness:
		return fmt.Sprintf("%s was seen at %s at %s", r.Bib, r.Line, r.Time)
	case race.SetTime:
		return fmt.Sprintf("%s passed %s at %s", r.Bib, r.Split, r.Time)
	case race.UseSystem:
		return fmt.Sprintf("%s's time counts for %s at %s", r.System, r.Bib, r.Split)
	case race.VoidPassing:
		return fmt.Sprintf("%s did not pass %s at %s", r.Bib, r.Line, r.Time)
	case race.SetStatus:
		return fmt.Sprintf("%s is %s", r.Bib, strings.ToUpper(r.Status))
	case race.SetClock:
		if r.Stepped != "" {
			return fmt.Sprintf("at %s it was %s's clock that stepped", r.Line, r.Stepped)
		}
		s := fmt.Sprintf("%s's clock at %s is off by %s s", r.System, r.Line, r.Offset)
		if r.From != "" {
			s += " from " + r.From
		}
		return s
	case race.AddAthlete:
		return strings.TrimSpace(fmt.Sprintf("%s %s ran in wave %s", r.Bib, r.Name, r.Wave))
	case race.Accept:
		return r.Suspect + " is right as it stands"
	case race.Undo:
		return fmt.Sprintf("ruling %d is taken back", r.UndoneSeq)
	}
	return r.Rule
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}
