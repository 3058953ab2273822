package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// sources parses the files of a folder that aren't tests.
func sources(t *testing.T, dir string) []*ast.File {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(dir), "*.go"))
	if err != nil || len(paths) == 0 {
		t.Fatal("no files in "+dir, err)
	}
	var files []*ast.File
	for _, p := range paths {
		if strings.HasSuffix(p, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	return files
}

// kindConstants are the constants that stand beside the table of kinds: name to value.
func kindConstants(t *testing.T) map[string]string {
	t.Helper()
	values := map[string]string{}
	for _, f := range sources(t, "reconcile/race") {
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST || !strings.HasPrefix(nameOf(g), "MissingSplit ") {
				continue
			}
			for _, s := range g.Specs {
				v := s.(*ast.ValueSpec)
				value, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
				if err != nil {
					t.Fatal(err)
				}
				values[v.Names[0].Name] = value
			}
		}
	}
	return values
}

// nameOf is the names that a declaration gives, in a row.
func nameOf(g *ast.GenDecl) string {
	var b strings.Builder
	for _, s := range g.Specs {
		if v, ok := s.(*ast.ValueSpec); ok {
			for _, n := range v.Names {
				b.WriteString(n.Name + " ")
			}
		}
	}
	return b.String()
}

// Nobody asks a kind that has no row how people say it or whom its id is about: it would be
// shown as it is written, and an accept of it would stand in nobody's story.
func TestEveryKindOfSuspectHasItsRow(t *testing.T) {
	rows, said := map[string]int{}, map[string]string{}
	for _, k := range race.SuspectKinds {
		rows[k.Name]++
		if k.Words == "" || said[k.Words] != "" {
			t.Errorf("%s is said %q, as is %q", k.Name, k.Words, said[k.Words])
		}
		said[k.Words] = k.Name
		if race.SuspectKindOf(k.Name) != k {
			t.Errorf("%s isn't found by its name", k.Name)
		}
	}
	constants := kindConstants(t)
	for name, kind := range constants {
		if rows[kind] != 1 {
			t.Errorf("race.%s (%s) has %d rows in race.SuspectKinds, want one", name, kind, rows[kind])
		}
	}
	if len(constants) != len(race.SuspectKinds) {
		t.Errorf("%d kinds have names, %d have rows", len(constants), len(race.SuspectKinds))
	}
}

// What finders begin is of a kind in the table, and each of the table somebody finds.
func TestFindersFindTheKindsOfTheTable(t *testing.T) {
	constants := kindConstants(t)
	found := map[string]bool{}
	see := func(x ast.Expr) {
		s, ok := x.(*ast.SelectorExpr)
		if !ok {
			if id, ok := x.(*ast.Ident); !ok || id.Name != "kind" { // as it was given to whoever begins one
				t.Errorf("a suspect of a kind that is no constant of race: %s", fmt.Sprint(x))
			}
			return
		}
		kind, ok := constants[s.Sel.Name]
		if !ok {
			t.Errorf("a suspect of kind race.%s, which has no row in race.SuspectKinds", s.Sel.Name)
		}
		found[kind] = true
	}
	for _, dir := range []string{"reconcile/suspect", "reconcile"} {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					if id, ok := n.Fun.(*ast.Ident); ok && id.Name == "suspect" {
						see(n.Args[0])
					}
				case *ast.CompositeLit:
					if s, ok := n.Type.(*ast.SelectorExpr); ok && s.Sel.Name == "Finding" {
						for _, e := range n.Elts {
							if kv := e.(*ast.KeyValueExpr); kv.Key.(*ast.Ident).Name == "Kind" {
								see(kv.Value)
							}
						}
					}
				}
				return true
			})
		}
	}
	for _, k := range race.SuspectKinds {
		if !found[k.Name] {
			t.Errorf("nobody finds a suspect of kind %s", k.Name)
		}
	}
}

// 6, 8 Ids: the table's kinds are the contract's, in its order, and their ids name what it says.
func TestTheContractsKindsAreThoseOfTheTable(t *testing.T) {
	page, err := os.ReadFile(filepath.Join(shared(t), "contract.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(page), "\n## 6. Suspects\n")
	table, _, ends := strings.Cut(after, "\n## ")
	if !ok || !ends {
		t.Fatal("the contract has no section 6")
	}
	var names, ours []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z-]+)` \\|").FindAllStringSubmatch(table, -1) {
		names = append(names, m[1])
	}
	for _, k := range race.SuspectKinds {
		ours = append(ours, k.Name)
	}
	if !slices.Equal(names, ours) {
		t.Errorf("the contract's kinds are\n%v\nthe table's\n%v", names, ours)
	}
	_, after, ok = strings.Cut(string(page), "\n**Ids.** ")
	ids, _, _ := strings.Cut(after, "\n\n")
	if !ok {
		t.Fatal("the contract says nothing of ids")
	}
	for _, k := range race.SuspectKinds {
		if want, ok := contractsIDOf(ids, k.Name); !ok || want != k.IDOf {
			t.Errorf("the id of %s names %d, by the contract %d (%v)", k.Name, k.IDOf, want, ok)
		}
	}
}

// contractsIDOf reads from the contract's words on ids what one of a kind names: the form
// stands before the kinds in brackets, or is an example.
func contractsIDOf(ids, kind string) (race.IDOf, bool) {
	if m := regexp.MustCompile("`" + kind + ":([^`]+)`").FindStringSubmatch(ids); m != nil {
		return idOf(m[1]), true
	}
	for _, m := range regexp.MustCompile("`kind:([^`]+)`[^(`]*\\(([^)]*)\\)").FindAllStringSubmatch(ids, -1) {
		if regexp.MustCompile("(^|[\\s,])" + kind + "($|[\\s,])").MatchString(m[2]) {
			return idOf(m[1]), true
		}
	}
	if regexp.MustCompile("with `@hh:mm` \\([^)]*" + kind).MatchString(ids) { // as the form before it, and a time
		return race.OfNobody, true
	}
	return race.OfNobody, false
}

// idOf is what a form or an example of what follows a kind in an id names.
func idOf(form string) race.IDOf {
	switch {
	case form == "bib":
		return race.OfBib
	case strings.HasPrefix(form, "bib:"), strings.Count(form, ":") > 1 && form[0] >= '0' && form[0] <= '9':
		return race.OfBibAt
	case strings.Contains(form, "+"):
		return race.OfPair
	case strings.Trim(form, "0123456789") == "":
		return race.OfRuling
	}
	return race.OfNobody
}
