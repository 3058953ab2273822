package race

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Unfit is what is wrong with a word, and what is wanted in its place.
type Unfit struct{ What, Want string }

func (u *Unfit) Error() string { return u.What + "; want " + u.Want }

// CheckBib refuses what would break a suspect's id or a list of bibs apart; nil where it is
// a bib, in a list as in a ruling.
func CheckBib(s string) *Unfit {
	return CheckName(s, ",:;+", "a bib without spaces, commas, semicolons, colons and +")
}

// CheckName refuses what can't be a name in an id: nil where it can.
func CheckName(s, barred, want string) *Unfit {
	unfit := func(what string, args ...any) *Unfit { return &Unfit{fmt.Sprintf(what, args...), want} }
	switch {
	case s == "":
		return unfit("it is empty")
	case len(s) > 64:
		return unfit("%s is longer than 64 bytes", Quote(s))
	case !utf8.ValidString(s):
		return unfit("%s is not UTF-8", Quote(s))
	}
	for _, c := range s {
		if unicode.IsSpace(c) || unicode.IsControl(c) || unicode.Is(unicode.Cf, c) || strings.ContainsRune(barred, c) {
			return unfit("%s has the character %q", Quote(s), c)
		}
	}
	return nil
}

// Quote is a word as a message shows it.
func Quote(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
