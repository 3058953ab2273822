package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// packages are the project's, by their folder below its root, without their tests.
func packages(t *testing.T) (imports map[string][]string, documented map[string]bool) {
	t.Helper()
	imports, documented = map[string][]string{}, map[string]bool{}
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && d.Name() != "..") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly|parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, filepath.Dir(path))
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(rel)
		if imports[dir] == nil {
			imports[dir] = []string{}
		}
		for _, i := range f.Imports {
			imports[dir] = append(imports[dir], strings.Trim(i.Path.Value, `"`))
		}
		documented[dir] = documented[dir] || f.Doc != nil
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return imports, documented
}

// The house stands on this: what computes knows no files, no clock on the wall and no
// screen; what shows computes nothing; nothing looks sideways into another's room.
func TestNobodyImportsAgainstTheHouse(t *testing.T) {
	imports, _ := packages(t)
	within := func(path, room string) bool { return path == room || strings.HasPrefix(path, room+"/") }
	sideways := map[string][]string{ // what one room of reconcile may see besides race, and why
		"reconcile/course":   {"twinmat/reconcile/pace", "twinmat/reconcile/robust"},                              // a start off the grid is told by the top speed; medians
		"reconcile/clock":    {"twinmat/reconcile/robust", "twinmat/reconcile/ordered"},                           // medians; differences by size
		"reconcile/suspect":  {"twinmat/reconcile/pace", "twinmat/reconcile/robust", "twinmat/reconcile/ordered"}, // impossible is faster than anybody ever was; medians; who came when goes on
		"reconcile/result":   {"twinmat/reconcile/ordered"},                                                       // ranks go on
		"reconcile/standing": {"twinmat/reconcile/ordered"},                                                       // who is still out goes on
		"reconcile/export":   {"twinmat/reconcile/result"},                                                        // rows stand in the order of ranks
		"reconcile/report":   {"twinmat/reconcile/export"},                                                        // counts of states, inputs with their hashes
	}
	for dir, paths := range imports {
		for _, p := range paths {
			switch {
			case within(dir, "reconcile"):
				if within(p, "twinmat/ingest") || within(p, "twinmat/tui") || within(p, "twinmat/cmd") || p == "os" || p == "net" || p == "math/rand" || strings.HasPrefix(p, "github.com/") {
					t.Errorf("%s imports %s: the computation is pure", dir, p)
				}
				if dir != "reconcile" && within(p, "twinmat/reconcile") && p != "twinmat/reconcile/race" && !slices.Contains(sideways[dir], p) {
					t.Errorf("%s imports %s: rooms of reconcile see race, and nothing sideways", dir, p)
				}
			case within(dir, "ingest"):
				if within(p, "twinmat/tui") || within(p, "twinmat/cmd") {
					t.Errorf("%s imports %s: what comes in knows nothing of who shows it", dir, p)
				}
			case within(dir, "tui"):
				if within(p, "twinmat/ingest") || within(p, "twinmat/cmd") {
					t.Errorf("%s imports %s: the console asks its desk", dir, p)
				}
			}
		}
	}
	if len(imports) < 20 {
		t.Errorf("only %d packages were found", len(imports))
	}
}

func TestEveryPackageSaysWhatItIs(t *testing.T) {
	_, documented := packages(t)
	for dir, ok := range documented {
		if !ok {
			t.Errorf("%s has no package comment", dir)
		}
	}
}

// Whoever looks for a step of the computation finds its file by the page for contributors, and
// every room of the house.
func TestThePageForContributorsNamesEveryRoomAndStep(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	steps, err := filepath.Glob(filepath.Join("..", "..", "reconcile", "*.go"))
	if err != nil || len(steps) == 0 {
		t.Fatal("no steps", err)
	}
	for _, s := range steps {
		if name := filepath.Base(s); !strings.HasSuffix(name, "_test.go") && !strings.Contains(string(page), "`"+name+"`") && !strings.Contains(string(page), "`reconcile/"+name+"`") {
			t.Errorf("DEVELOPERS.md says nothing of reconcile/%s", name)
		}
	}
	imports, _ := packages(t)
	for dir := range imports {
		room := dir[strings.LastIndexByte(dir, '/')+1:]
		if !strings.Contains(string(page), "`"+dir+"`") && !strings.Contains(string(page), "`"+room+"`") {
			t.Errorf("DEVELOPERS.md says nothing of %s", dir)
		}
	}
}
