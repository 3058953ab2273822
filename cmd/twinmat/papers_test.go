package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// What the contributors' pages name is there: every test, every source file.
func TestTheContributorsPagesNameWhatThereIs(t *testing.T) {
	root := filepath.Join("..", "..")
	var paths []string
	tests := map[string]bool{}
	named := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`)
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		paths = append(paths, "/"+filepath.ToSlash(path))
		if strings.HasSuffix(path, "_test.go") {
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, m := range named.FindAllStringSubmatch(string(b), -1) {
				tests[m[1]] = true
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var pages strings.Builder
	for _, name := range []string{"DEVELOPERS.md", "testdata/MEASURED.md"} {
		b, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		pages.Write(b)
	}
	there := func(ok func(string) bool, all map[string]bool) bool {
		for name := range all {
			if ok(name) {
				return true
			}
		}
		return false
	}
	page, seen := pages.String(), 0
	for _, m := range regexp.MustCompile(`\b((?:Test|Fuzz)[A-Z]\w*)(…?)`).FindAllStringSubmatch(page, -1) {
		seen++
		if !tests[m[1]] && (m[2] == "" || !there(func(name string) bool { return strings.HasPrefix(name, m[1]) }, tests)) {
			t.Errorf("the pages name %s, which there isn't", m[0])
		}
	}
	files := map[string]bool{}
	for _, p := range paths {
		files[p] = true
	}
	for _, m := range regexp.MustCompile("`([a-z_/]+\\.go)`").FindAllStringSubmatch(page, -1) {
		seen++
		if !there(func(path string) bool { return strings.HasSuffix(path, "/"+m[1]) }, files) {
			t.Errorf("the pages name %s, which there isn't", m[1])
		}
	}
	if seen < 60 {
		t.Errorf("only %d names were found on the page", seen)
	}
}

// The README's race, from an empty folder to results, gives what stands there.
func TestTheReadmesRace(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("SKIPPED: there is no sh here")
	}
	b, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, walk, found := strings.Cut(string(b), "<!-- walk: begin -->\n")
	walk, _, _ = strings.Cut(walk, "<!-- walk: end -->")
	typed, shows, shown := strings.Cut(walk, "<!-- walk: shows -->\n")
	if !found || !shown {
		t.Fatal("README.md has no race between its marks")
	}
	block := regexp.MustCompile("(?ms)^```\n(.*?)^```")
	script := "set -e\n"
	for _, m := range block.FindAllStringSubmatch(typed, -1) {
		script += m[1]
	}
	c := exec.Command(shell, "-c", strings.ReplaceAll(script, "./twinmat", `"$twinmat"`))
	c.Dir = t.TempDir()
	c.Env = append(os.Environ(), asProgram+"=1", "twinmat="+os.Args[0])
	var said strings.Builder
	c.Stderr = &said
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v\n%s%s", err, out, &said)
	}
	if want := block.FindStringSubmatch(shows)[1]; !strings.HasSuffix(string(out), "\n"+want) {
		t.Errorf("it ends in\n%s\nwant\n%s", out, want)
	}
}
