package race

import (
	"fmt"
	"strings"
	"time"
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

// IsBirth tells whether a birth is a year, or a date that there was: 1984-03-31, or as lists write
// it 31.3.1984 or 3/31/1984.
func IsBirth(s string) bool {
	for _, form := range []string{"2006", "2006-01-02", "2.1.2006", "2/1/2006", "1/2/2006"} {
		if t, err := time.Parse(form, s); err == nil && t.Year() >= 1800 && t.Year() < 2200 {
			return true
		}
	}
	return false
}

// Counted is so many of something in words.
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Arg writes one argument of a ruling's line so that splitting at spaces finds it whole; quotes go
// round whatever a shell would take apart.
func Arg(s string) string {
	if s != "" && !strings.ContainsAny(s, " \t\r\n\"'\\$`*?[]{}()<>|&;#~!=") {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// AcceptLine is the ruling that a suspect is right as it stands, as `rule` takes it.
func AcceptLine(id string) string { return Accept + " --suspect " + Arg(id) }
