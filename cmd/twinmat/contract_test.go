package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The outer surface, held to what its page says: every file of testdata/contract is a small
// race, made by hand so that every time can be reckoned in one's head, and a script of
// commands and of cells of the exports. The page's section stands beside each check.
//
//	export [FLAGS]             exports the race; export! N: exits with status N
//	rule KIND FLAGS            rules; rule! N: exits with status N
//	cell FILE KEY COLUMN WANT  a cell; WANT is text, or a regular expression after ~
//	keys FILE KEY…             the rows, in their order
//	absent FILE KEY            no such row
//	manifest KEY WANT          a value of manifest.json, KEY with points
//	append PATH TEXT           a line more in a file of the race
//
// Keys: times bib; splits bib/split; suspects id; clocks and systems line/system (clocks:
// #2 for the second row); changes bib/what.
func TestContract(t *testing.T) { playContracts(t, "contract") }

// What others have published, in races of the same form: the source stands beside each check.
func TestPublished(t *testing.T) { playContracts(t, "published") }

func playContracts(t *testing.T, folder string) {
	paths, err := filepath.Glob("testdata/" + folder + "/*.txt")
	if err != nil || len(paths) == 0 {
		t.Fatal("no races in testdata/"+folder, err)
	}
	for _, p := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(p), ".txt"), func(t *testing.T) {
			b, err := os.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			c := &contract{t: t, dir: filepath.Join(t.TempDir(), "race")}
			script := c.unpack(string(b))
			for n, line := range strings.Split(script, "\n") {
				c.at = fmt.Sprintf("%s:%d: %s", p, n+1, line)
				if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
					c.do(split(line))
				}
			}
		})
	}
}

type contract struct {
	t   *testing.T
	dir string
	at  string
}

// unpack writes the files of the race and returns the script before them.
func (c *contract) unpack(s string) string {
	parts := regexp.MustCompile(`(?m)^-- (\S+) --\n`).Split(s, -1)
	names := regexp.MustCompile(`(?m)^-- (\S+) --\n`).FindAllStringSubmatch(s, -1)
	for i, n := range names {
		path := filepath.Join(c.dir, n[1])
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			c.t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(parts[i+1]), 0o644); err != nil {
			c.t.Fatal(err)
		}
	}
	return parts[0]
}

// split is a line's words; what stands in single quotes is one.
func split(line string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`'([^']*)'|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

func (c *contract) do(w []string) {
	c.t.Helper()
	status := 0
	name, wrong := strings.CutSuffix(w[0], "!")
	if wrong {
		n, err := strconv.Atoi(w[1])
		if err != nil {
			c.t.Fatalf("%s: %v", c.at, err)
		}
		status, w = n, append(w[:1:1], w[2:]...)
	}
	switch name {
	case "export", "explain":
		c.run(status, append([]string{name, c.dir}, w[1:]...))
	case "rule":
		c.run(status, append([]string{name, c.dir, w[1], "--why", "as ruled"}, w[2:]...))
	case "cell":
		c.cell(w[1], w[2], w[3], w[4])
	case "keys":
		if _, got := c.table(w[1]); !slices.Equal(got, w[2:]) {
			c.t.Errorf("%s\n  rows are %q", c.at, got)
		}
	case "absent":
		if rows, _ := c.table(w[1]); rows[w[2]] != nil {
			c.t.Errorf("%s\n  it is there: %v", c.at, rows[w[2]])
		}
	case "manifest":
		c.manifest(w[1], w[2])
	case "append":
		c.more(w[1], w[2])
	default:
		c.t.Fatalf("%s: no such word", c.at)
	}
}

func (c *contract) run(want int, args []string) {
	c.t.Helper()
	if got, says, err := command(args); got != want {
		c.t.Errorf("%s\n  status %d, %v\n%s", c.at, got, err, says)
	}
}

// says is what a command that must succeed writes.
func (c *contract) says(args ...string) string {
	c.t.Helper()
	got, says, err := command(args)
	if got != 0 {
		c.t.Errorf("%s\n  status %d, %v\n%s", c.at, got, err, says)
	}
	return says
}

func command(args []string) (status int, says string, err error) {
	var out bytes.Buffer
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(&out)
	root.SetErr(&out)
	err = root.Execute()
	return exit(err), out.String(), err
}

// table reads an export's rows by key, and the keys in order.
func (c *contract) table(name string) (map[string]map[string]string, []string) {
	c.t.Helper()
	b, err := os.ReadFile(filepath.Join(c.dir, "out", name+".csv"))
	if err != nil {
		c.t.Fatalf("%s: %v", c.at, err)
	}
	if bytes.ContainsRune(b, '\r') {
		c.t.Errorf("%s: %s.csv holds a CR", c.at, name)
	}
	all, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		c.t.Fatalf("%s: %v", c.at, err)
	}
	by := map[string][]string{"times": {"bib"}, "splits": {"bib", "split"}, "suspects": {"id"}, "clocks": {"line", "system"}, "systems": {"line", "system"}, "changes": {"bib", "what"}}[name]
	rows := map[string]map[string]string{}
	var keys []string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		var parts []string
		for _, col := range by {
			parts = append(parts, m[col])
		}
		key := strings.Join(parts, "/")
		for n := 2; rows[key] != nil; n++ {
			key = strings.Join(parts, "/") + "#" + strconv.Itoa(n)
		}
		rows[key] = m
		keys = append(keys, key)
	}
	return rows, keys
}

func (c *contract) cell(file, key, column, want string) {
	c.t.Helper()
	rows, keys := c.table(file)
	row := rows[key]
	if row == nil {
		c.t.Errorf("%s\n  no row %s, there are %q", c.at, key, keys)
		return
	}
	got, ok := row[column]
	if !ok {
		c.t.Fatalf("%s: no column %s", c.at, column)
	}
	c.same(got, want)
}

func (c *contract) same(got, want string) {
	c.t.Helper()
	if re, ok := strings.CutPrefix(want, "~"); ok && regexp.MustCompile("^(?:"+re+")$").MatchString(got) || got == want {
		return
	}
	c.t.Errorf("%s\n  it is %q", c.at, got)
}

func (c *contract) manifest(key, want string) {
	c.t.Helper()
	b, err := os.ReadFile(filepath.Join(c.dir, "out", "manifest.json"))
	if err != nil {
		c.t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(b, &v); err != nil {
		c.t.Fatal(err)
	}
	for _, k := range strings.Split(key, ".") {
		m, ok := v.(map[string]any)
		if !ok {
			c.t.Fatalf("%s: no %s", c.at, k)
		}
		v = m[k]
	}
	c.same(fmt.Sprint(v), want)
}

func (c *contract) more(path, text string) {
	f, err := os.OpenFile(filepath.Join(c.dir, path), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		c.t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text + "\n"); err != nil {
		c.t.Fatal(err)
	}
}

// write replaces a file of the race.
func (c *contract) write(path, text string) {
	c.t.Helper()
	if err := os.WriteFile(filepath.Join(c.dir, path), []byte(text), 0o644); err != nil {
		c.t.Fatal(err)
	}
}
