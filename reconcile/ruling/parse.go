package ruling

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// Parse reads one ruling from the flags of its kind. Moments are brought to RFC 3339 in the
// race's zone, lengths to signed seconds.
func Parse(name string, args []string, p *race.Plan) (race.Ruling, error) {
	r := race.Ruling{Rule: name}
	k := kindOf(name)
	if k == nil {
		return r, fmt.Errorf("there is no kind of ruling %s; want one of %s", race.Quote(name), strings.Join(race.RulingKinds, ", "))
	}
	given := map[string]bool{}
	for i := 0; i < len(args); i++ {
		name, value, inline := strings.Cut(args[i], "=")
		if !strings.HasPrefix(name, "--") {
			return r, fmt.Errorf("%s: %s is no flag; it takes %s", k.name, race.Quote(args[i]), k.flagNames())
		}
		name = strings.TrimPrefix(name, "--")
		if !inline {
			if i+1 >= len(args) || k.isFlag(args[i+1]) {
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
	value = strings.ToValidUTF8(value, "\ufffd")
	if name == "why" {
		if given[name] {
			return fmt.Errorf("--why stands twice")
		}
		given[name] = true
		r.Why = strings.TrimSpace(value)
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
		return f.take(r, p, strings.TrimSpace(value))
	}
	return fmt.Errorf("there is no --%s; it takes %s", name, k.flagNames())
}

// isFlag tells whether a word is one of the kind's flags, and so no value.
func (k *kind) isFlag(word string) bool {
	name, ok := strings.CutPrefix(word, "--")
	name, _, _ = strings.Cut(name, "=")
	for i := range k.flags {
		if ok && k.flags[i].name == name {
			return true
		}
	}
	return ok && name == "why"
}

func (f *flag) take(r *race.Ruling, p *race.Plan, value string) error {
	switch {
	case f.second != nil:
		*f.second(r) = append(*f.second(r), value)
	case f.number != nil:
		n := whole(value)
		if n == 0 {
			return fmt.Errorf("--%s %s is no whole number from 1", f.name, race.Quote(value))
		}
		*f.number(r) = n
	case f.form == moment:
		t, err := Moment(p, value)
		if err != nil {
			return fmt.Errorf("--%s: %w", f.name, err)
		}
		*f.field(r) = t.Format(p.Zone)
	case f.form == length:
		d, err := Length(value)
		if err != nil {
			return fmt.Errorf("--%s: %w", f.name, err)
		}
		*f.field(r) = f.length(d)
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
// quoted as for a shell. A reason that stands last needs no quotes: nobody writes them at a console.
func ParseLine(s string, p *race.Plan) (race.Ruling, error) {
	line, why, plain := plainReason(s)
	args, err := words(line)
	if err != nil && plain {
		plain = false // the flag stood in quotes
		args, err = words(s)
	}
	if err != nil {
		return race.Ruling{}, err
	}
	if len(args) == 0 {
		return race.Ruling{}, fmt.Errorf("no ruling stands here")
	}
	if plain {
		args = append(args, "--why", why)
	}
	return Parse(args[0], args[1:], p)
}

// plainReason takes a reason without quotes off the end of a line.
func plainReason(s string) (line, why string, ok bool) {
	line, why, ok = strings.Cut(s, " --why ")
	why = strings.TrimSpace(why)
	if !ok || why == "" || strings.ContainsAny(why[:1], `'"`) || strings.HasPrefix(why, "--") || strings.Contains(why, " --") || strings.Contains(why, `\`) {
		return s, "", false
	}
	return line, why, true
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
		return nil, fmt.Errorf("a quote is never closed in %s", race.Quote(s))
	}
	if begun {
		out = append(out, b.String())
	}
	return out, nil
}
