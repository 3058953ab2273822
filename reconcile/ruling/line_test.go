package ruling

import (
	"strings"

	"twinmat/reconcile/race"
)

// Args are the flags of a ruling, with its reason if it has one: Parse of them gives the
// ruling again, but for its number, when and by whom it was made, and evidence.
func Args(r *race.Ruling) []string {
	k := kindOf(r.Rule)
	if k == nil {
		return nil
	}
	var out []string
	for _, f := range k.flags {
		switch v := f.value(r); {
		case v == "":
		case f.second != nil:
			for _, t := range tags(r) {
				out = append(out, "--"+f.name, t)
			}
		default:
			out = append(out, "--"+f.name, v)
		}
	}
	if r.Why != "" {
		out = append(out, "--why", r.Why)
	}
	return out
}

// Line is a ruling on one line as ParseLine reads it and a shell takes it.
func Line(r *race.Ruling) string {
	var b strings.Builder
	b.WriteString(r.Rule)
	for _, a := range Args(r) {
		b.WriteString(" " + race.Arg(a))
	}
	return b.String()
}
