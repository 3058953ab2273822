package plan

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A document with more faults than this isn't a plan. Each costs another parse of the whole,
// so a long one is given fewer.
const (
	maxFaults  = 50
	faultBytes = 1 << 19
)

// The library compares each key with all before it in its table.
const maxKeys = 20_000

// poison stands for a value, or begins a key, that was reported already. TOML texts may hold
// it, but only a document with faults is searched for it.
const poison = "\x00"

// document is race.toml as a tree in which every key and value knows its offset.
type document struct {
	lines
	text   []byte
	root   *table
	faults bool // the text was repaired to go on
}

// table is a TOML table, its keys in the order of the text.
type table struct {
	at    int
	name  string // as the file would head it, "" for the top
	keys  []*key
	named map[string]*key
	asked []string // keys that were looked for, so known ones
}

type key struct {
	name string
	at   int
	item *item
	used bool
}

// item is a value: a scalar with its text, a table or a list.
type item struct {
	at   int
	kind unstable.Kind
	text string
	sub  *table
	list []*item
}

// readDocument parses race.toml. What isn't TOML is reported and replaced so that the rest
// can be looked at too; the library's decoder stops at its first error and can't tell where a
// good value stood, hence the tree.
func readDocument(found *problems, text []byte) *document {
	d := &document{text: text, lines: linesOf(text)}
	if n := bytes.Count(text, []byte("=")); n > maxKeys {
		d.faults = true
		found.add(Problem{File: TomlFile, What: fmt.Sprintf("%d keys", n), Want: fmt.Sprintf("at most %d", maxKeys)})
		return d
	}
	most := max(5, min(maxFaults, faultBytes/max(1, len(text))))
	reported := map[int]bool{}
	for n := 0; ; n++ {
		var sink map[string]any
		err := toml.Unmarshal(d.text, &sink)
		if err == nil {
			break
		}
		d.faults = true
		line, column, what := 1, 1, err.Error()
		if e := (*toml.DecodeError)(nil); errors.As(err, &e) {
			line, column = e.Position()
		}
		what = strings.TrimPrefix(what, "toml: ")
		// A repaired line may fall over its repair; a key that is there twice was so before.
		if !reported[line] || strings.Contains(what, "already") && assignment.MatchString(d.line(line)) {
			p := Problem{File: TomlFile, Line: line, Column: column, What: "not TOML: " + what, Want: d.hint(line, what)}
			d.bare(&p)
			found.add(p)
		}
		reported[line] = true
		if n >= most || !d.repair(line, what, n) {
			return d
		}
	}
	d.build()
	return d
}

// line is the text of a line from 1, without its end.
func (d *document) line(n int) string {
	if n < 1 || n > len(d.starts) {
		return ""
	}
	from, to := d.starts[n-1], len(d.text)
	if n < len(d.starts) {
		to = d.starts[n]
	}
	return strings.TrimRight(string(d.text[from:to]), "\r\n")
}

var (
	assignment = regexp.MustCompile(`^\s*([A-Za-z0-9_-]+)\s*=\s*(.*?)\s*$`)
	heading    = regexp.MustCompile(`^\s*(\[\[?)\s*([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)`)
	bareTime   = regexp.MustCompile(`^[0-9]:[0-9]{2}(:[0-9]{2}([.][0-9]+)?)?$`)
	bareText   = regexp.MustCompile(`^[+\-]?[\pL0-9][^"'\[\]{}=:]*$`)
)

// listHeads are the headings that come once for each of many.
var listHeads = []string{"line", "line.log", "course", "course.split", "wave"}

// headed is a heading as it should stand.
func headed(bracket, name string) string {
	if slices.Contains(listHeads, name) {
		bracket = "[["
	}
	return bracket + name + strings.Repeat("]", len(bracket))
}

// hint says what should stand in a line that isn't TOML.
func (d *document) hint(line int, what string) string {
	if strings.Contains(what, "already") {
		return "each key and table once; [[line]], [[course]] and their like may come again"
	}
	if from, _, _, _ := d.expression(line); from < line {
		return fmt.Sprintf("the list, table or text before it closed: it begins in line %d", from)
	}
	text := d.line(line)
	if m := heading.FindStringSubmatch(text); m != nil {
		return "a heading such as " + headed(m[1], m[2])
	}
	if m := assignment.FindStringSubmatch(text); m != nil && (m[2] == "" || m[2][0] == '#') {
		return "a value after the ="
	}
	switch {
	case strings.Contains(what, "date"), strings.Contains(what, "hour"), strings.Contains(what, "minute"), strings.Contains(what, "second"):
		return "a date such as 2026-05-17, a time such as 09:00:00"
	case strings.Contains(what, "string"):
		return `a text on one line between quotes: "…"`
	}
	return `key = value, or a heading such as [[line]]`
}

// bare puts the commonest fault, a text without quotes, in better words than the parser's,
// which stumbles over one of its letters.
func (d *document) bare(p *Problem) {
	text := d.line(p.Line)
	m := assignment.FindStringSubmatchIndex(text)
	if m == nil || strings.Contains(p.What, "already") {
		return
	}
	name := text[m[2]:m[3]]
	value, _, _ := strings.Cut(text[m[4]:m[5]], "#")
	value = strings.TrimSpace(value)
	switch {
	case bareTime.MatchString(value):
		p.Want = fmt.Sprintf("two digits an hour: %s = 0%s", name, value)
	case !bareText.MatchString(value) || p.Column <= m[4]:
		return
	case name == "date":
		p.Want = "a day such as date = 2026-05-17"
	case name == "gun" || name == "from" || name == "to":
		p.Want = wantInstant
	case name == "required":
		p.Want = "required = true, or no such line"
	case name == "format" || name == "repeat" || name == "prizes":
		p.Want = fmt.Sprintf("a whole number: %s = 1", name)
	default:
		p.Want = fmt.Sprintf("a text in quotes: %s = %q", name, value)
	}
	p.Column, p.What = m[4]+1, fmt.Sprintf("not TOML: %s stands without quotes", value)
	if p.Want[0] != 'a' || name == "date" {
		p.What = fmt.Sprintf("not TOML: %s is %s", name, value)
	}
}

// repair replaces what is at fault in a line so that lines keep their numbers and the rest
// its meaning. False when there is nothing to replace.
func (d *document) repair(line int, what string, n int) bool {
	from, to, head, name := d.expression(line)
	fill := ""
	switch {
	case strings.Contains(what, "already"):
		if head != "" {
			fill = fmt.Sprintf(`["\u0000%d"]`, n)
		}
	case head != "":
		fill = headed(head, name)
	case name != "":
		fill = name + ` = "\u0000"`
	}
	if strings.TrimSpace(d.line(from)) == fill {
		fill = ""
	}
	var out bytes.Buffer
	out.Write(d.text[:d.starts[from-1]])
	out.WriteString(fill)
	out.WriteString(strings.Repeat("\n", to-from))
	if to < len(d.starts) {
		out.WriteByte('\n')
		out.Write(d.text[d.starts[to]:])
	}
	if bytes.Equal(out.Bytes(), d.text) {
		return false
	}
	d.text = out.Bytes()
	d.lines = linesOf(d.text)
	return true
}

// expression finds the lines of the expression that a faulty line belongs to, and its key or
// heading if it has one to be read.
func (d *document) expression(line int) (from, to int, head, name string) {
	from, to = 1, line
	var p unstable.Parser
	p.Reset(d.text)
	for p.NextExpression() {
		first, last := d.span(p.Expression())
		if first <= line && line <= last {
			from, to = first, last
			break
		}
		if first > line {
			break
		}
		from = last + 1
	}
	for from < line {
		if s := strings.TrimSpace(d.line(from)); s != "" && s[0] != '#' {
			break
		}
		from++
	}
	// An open list or text runs into the next key; that one is not to blame.
	if to > from && p.Error() != nil {
		if s := d.line(to); assignment.MatchString(s) || heading.MatchString(s) {
			to--
		}
	}
	if m := heading.FindStringSubmatch(d.line(from)); m != nil {
		return from, to, m[1], m[2]
	}
	if m := assignment.FindStringSubmatch(d.line(from)); m != nil {
		return from, to, "", m[1]
	}
	return from, to, "", ""
}

// span is the first and last line of an expression.
func (d *document) span(e *unstable.Node) (first, last int) {
	if e.Kind == unstable.KeyValue {
		first, _ = d.place(int(e.Raw.Offset))
		last, _ = d.place(max(int(e.Raw.Offset), int(e.Raw.Offset+e.Raw.Length)-1))
		return first, last
	}
	it := e.Key()
	it.Next()
	first, _ = d.place(int(it.Node().Raw.Offset))
	return first, first
}
