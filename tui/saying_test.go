package tui

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// notices are the formats of all that is said in the lines above the keys: here, and by who
// follows the race.
func notices(t *testing.T) []string {
	t.Helper()
	var out []string
	for _, pattern := range []string{"*.go", "../cmd/internal/live/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				c, ok := n.(*ast.CallExpr)
				if !ok || len(c.Args) < 2 {
					return true
				}
				s, ok := c.Fun.(*ast.SelectorExpr)
				if !ok || s.Sel.Name != "tell" && s.Sel.Name != "note" && s.Sel.Name != "noteUntil" {
					return true
				}
				if l, ok := c.Args[1].(*ast.BasicLit); ok {
					says, err := strconv.Unquote(l.Value)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, says)
				}
				return true
			})
		}
	}
	return out
}

var verb = regexp.MustCompile(`%[-+.0-9]*[a-z]`)

// What is said is said whole at every width that a console is used at, with words of usual
// length in it; longer ones are cut with a mark.
func TestNoNoticeIsCut(t *testing.T) {
	all := notices(t)
	if len(all) < 40 {
		t.Fatalf("only %d notices were found", len(all))
	}
	d := newDriver(t, 80, 24, 20, nil)
	all = append(all, "log is silent: Main at finish read nobody from 11:41:17 to 11:44:35 while backup read 17 athletes; 212 others have no time from main",
		d.m.longestWhy())
	for _, format := range all {
		says := verb.ReplaceAllStringFunc(format, func(v string) string {
			if strings.HasSuffix(v, "d") {
				return "12345"
			}
			return "what stands here has fifty letters, or some forty "
		})
		for _, w := range []int{60, 80, 120} {
			d.m.w, d.m.said = w, said{}
			d.m.watch.waiting = []Notice{{Key: "x", Level: Urgent, Says: says}, {}, {}}
			x := d.m.saying()
			whole := strings.Join(strings.Fields(clean(says)), " ")
			if got := strings.TrimSpace(strings.Join(x.lines, " ")); got != d.m.sight.look.warn+" "+whole {
				t.Errorf("at %d columns %q is said as %q", w, whole, got)
			}
			if last := x.lines[len(x.lines)-1]; cells(last)+cells(x.tail) > w {
				t.Errorf("at %d columns the keys for %q don't fit", w, whole)
			}
			d.m.tell(warn, "%s", says)
			if got := strings.Join(d.m.saying().lines, " "); !strings.HasSuffix(strings.TrimSpace(got), whole) {
				t.Errorf("at %d columns %q is said as %q", w, whole, got)
			}
		}
	}
}

// longestWhy is the longest reason why nothing can be ruled.
func (m *root) longestWhy() string {
	o := m.o
	defer func() { m.o = o }()
	m.o.ReadOnly, m.o.Why = true, "somebody else rules in this race: process 12345 of somebody on a-laptop-with-a-name, since 2026-05-17 08:00, so that nothing can be ruled here: everything can be seen, what a ruling would change too; rule there, or end that console and open this one again"
	return m.whyNoRuling()
}

// More than there is room for is cut with a mark, and the screen stays as high as asked.
func TestANoticeNeverTakesTheScreen(t *testing.T) {
	for _, size := range [][2]int{{20, 8}, {60, 12}, {80, 24}} {
		d := newDriver(t, size[0], size[1], 20, nil)
		d.m.tell(bad, "%s", strings.Repeat("a word and another ", 200))
		d.m.redraw()
		d.whole(d.m.View())
		if n := len(d.m.saying().lines); n > max(size[1]/sayingShare, 3) {
			t.Errorf("%d lines of %d", n, size[1])
		}
		d.sees(d.m.sight.look.cut)
	}
}

// Whoever only looks is told when a case is opened, not after it has been thought through.
func TestReadOnlySaysSoWhenACaseIsOpened(t *testing.T) {
	d := newDriver(t, 80, 24, 300, func(o *Options) { o.ReadOnly, o.Why = true, "another console rules" })
	for _, k := range []string{"enter", "x"} {
		d.keys("1 " + k)
		d.sees("read only: another console rules", "(apply)")
		d.keys("tab")
		d.sees("looked at only", "would change") // it stays where it is told why
		d.keys("esc")
	}
}

// What was done doesn't stand for ever in the place of what needs somebody; what failed does.
func TestWhatWasDoneGivesWayToWhatNeedsSomebody(t *testing.T) {
	d := newDriver(t, 100, 30, 30, nil)
	d.m.watch.seenAll()
	d.keys("L")
	d.sees("theme")
	d.rev++
	d.send(bookMsg{newBook(Update{State: d.desk.State(), Revision: d.rev, Notices: []Notice{{Key: "n", Level: Urgent, Says: "main at finish reads nobody"}}}, d.m.live)})
	d.sees("theme")
	d.seesNot("reads nobody")
	d.now = d.now.Add(saidFor)
	d.m.sight.now = d.now
	d.m.redraw()
	d.sees("main at finish reads nobody")
	d.m.tell(bad, "NOT saved: the disk is full")
	d.now = d.now.Add(time.Minute)
	d.m.sight.now = d.now
	d.m.redraw()
	d.sees("NOT saved")
}
