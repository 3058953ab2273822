package suspect

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// A finder that stands in neither list finds nothing, and nobody would miss it.
func TestEveryFinderIsAsked(t *testing.T) {
	asked := map[string]int{}
	for _, f := range slices.Concat(inTurn, atOnce) {
		name := runtime.FuncForPC(reflect.ValueOf(f).Pointer()).Name()
		asked[name[strings.LastIndexByte(name, '.')+1:]]++
	}
	paths, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	written := 0
	for _, p := range paths {
		if strings.HasSuffix(p, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), p, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && isFinder(f) {
				written++
				if asked[f.Name.Name] != 1 {
					t.Errorf("%s finds suspects and stands %d times in inTurn and atOnce, want once", f.Name.Name, asked[f.Name.Name])
				}
			}
		}
	}
	if written != len(asked) {
		t.Errorf("%d finders are asked, %d are written", len(asked), written)
	}
}

// isFinder tells whether a function is func(*field) []race.Suspect.
func isFinder(f *ast.FuncDecl) bool {
	of, gives := f.Type.Params.List, f.Type.Results
	if f.Recv != nil || len(of) != 1 || len(of[0].Names) > 1 || gives == nil || len(gives.List) != 1 {
		return false
	}
	star, ok := of[0].Type.(*ast.StarExpr)
	list, isList := gives.List[0].Type.(*ast.ArrayType)
	if !ok || !isList {
		return false
	}
	x, isField := star.X.(*ast.Ident)
	s, ofRace := list.Elt.(*ast.SelectorExpr)
	return isField && x.Name == "field" && ofRace && s.Sel.Name == "Suspect"
}
