package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"twinmat/reconcile/race"
)

// Problem is one thing wrong in a file of the race folder.
type Problem struct {
	File    string `json:"file"`             // name below the race folder
	Line    int    `json:"line,omitempty"`   // from 1; 0: the file as a whole
	Column  int    `json:"column,omitempty"` // from 1, in bytes of the text as UTF-8
	What    string `json:"what"`             // what was seen
	Want    string `json:"want,omitempty"`   // what was wanted
	Warning bool   `json:"warning"`          // the race can be timed all the same
	Later   bool   `json:"later,omitempty"`  // of a warning: what is missed comes by itself by the time of the race
	Mild    bool   `json:"mild,omitempty"`   // of a warning: odd, and nobody's time is at stake
}

// String is one line: file:line:column: what; want …
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", p.Line, p.Column)
	}
	b.WriteString(": ")
	if p.Warning {
		b.WriteString("warning: ")
	}
	b.WriteString(p.What)
	if p.Want != "" {
		b.WriteString("; want " + p.Want)
	}
	return b.String()
}

// Sound tells whether there are no problems but warnings.
func Sound(found []Problem) bool {
	return !slices.ContainsFunc(found, func(p Problem) bool { return !p.Warning })
}

// A file that is something else altogether has a problem in every line; nobody reads them all.
const maxProblems = 10_000

// problems collects what is found.
type problems struct {
	list []Problem
	over int
}

func (ps *problems) add(p Problem) {
	if ps.full(p.Warning) {
		ps.over++
		return
	}
	p.File, p.What, p.Want = inert(p.File), inert(p.What), inert(p.Want)
	ps.list = append(ps.list, p)
}

// inert writes control characters, and those that turn text about, as escapes: file
// names and keys are whatever their writer wanted.
func inert(s string) string {
	unsafe := func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == utf8.RuneError }
	if !strings.ContainsFunc(s, unsafe) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if unsafe(r) {
			b.WriteString(strings.Trim(strconv.QuoteRuneToASCII(r), "'"))
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// full tells whether another one would only be counted. Warnings leave room for what is worse.
func (ps *problems) full(warning bool) bool {
	return len(ps.list) >= 2*maxProblems || warning && len(ps.list) >= maxProblems
}

// sorted gives the problems by file, in the order in which the files depend on each other,
// then by place.
func (ps *problems) sorted() []Problem {
	slices.SortStableFunc(ps.list, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(order(a.File), order(b.File)), cmp.Compare(a.File, b.File),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	if ps.over > 0 {
		return append(ps.list, Problem{File: "…", What: fmt.Sprintf("%d more problems are not listed", ps.over), Warning: true})
	}
	return ps.list
}

func order(file string) int {
	if i := slices.Index([]string{TomlFile, AthletesFile, ChipsFile}, file); i >= 0 {
		return i
	}
	return 3
}

// fault is what is wrong with one value, before its place is known.
type fault struct{ what, want string }

func (f *fault) Error() string { return f.what + "; want " + f.want }

func faultf(want, what string, args ...any) *fault {
	return &fault{what: fmt.Sprintf(what, args...), want: want}
}

// nearest is " (did you mean …?)" for the name that a mistyped one is close to, else "".
func nearest(name string, known []string) string {
	best, limit := "", min(2, len(name)/2)
	name = strings.ToLower(name)
	for _, k := range known[:min(len(known), 200)] {
		if d := distance(name, strings.ToLower(k), limit); d <= limit {
			best, limit = k, d-1
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}

// distance is how many letters must be added, dropped, changed or exchanged with their
// neighbour to make b of a (Damerau's, in the restricted form), anything over limit when
// it is over limit.
func distance(a, b string, limit int) int {
	if len(a) > 64 || len(b) > 64 || len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	var rows [65][65]uint8
	for i := range len(a) + 1 {
		rows[i][0] = uint8(i)
	}
	for j := range len(b) + 1 {
		rows[0][j] = uint8(j)
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := rows[i-1][j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return int(rows[len(a)][len(b)])
}

// oneOf lists words to choose from.
func oneOf(words []string) string {
	if len(words) > 12 {
		return fmt.Sprintf("one of %s and %d more", strings.Join(words[:10], ", "), len(words)-10)
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// quote shows a value as it stands, cut when long; control characters can't get through.
func quote(s string) string { return race.Quote(s) }
