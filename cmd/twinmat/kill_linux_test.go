package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"twinmat/cmd/internal/invent"
	"twinmat/ingest/journal"
)

// growing is an invented race whose logs grow by pieces cut anywhere.
type growing struct {
	t     *testing.T
	dir   string
	files []string
	mu    sync.Mutex
	rest  map[string][]byte
}

func newGrowing(t *testing.T, seed uint64) *growing {
	t.Helper()
	g := &growing{t: t, dir: filepath.Join(t.TempDir(), "race"), rest: map[string][]byte{}}
	m, err := invent.Make(invent.Options{Kind: "demo", Seed: seed, Athletes: 150})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.WriteLists(g.dir); err != nil {
		t.Fatal(err)
	}
	if err := m.Feed(func(path string, line []byte, _ time.Time) error {
		if g.rest[path] == nil {
			g.files = append(g.files, path)
		}
		g.rest[path] = append(g.rest[path], line...)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return g
}

// grow gives a file its next n bytes.
func (g *growing) grow(path string, n int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	n = min(n, len(g.rest[path]))
	if n == 0 {
		return
	}
	full := filepath.Join(g.dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		g.t.Error(err)
	}
	f, err := os.OpenFile(full, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644)
	if err != nil {
		g.t.Error(err)
		return
	}
	defer f.Close()
	if _, err := f.Write(g.rest[path][:n]); err != nil {
		g.t.Error(err)
	}
	g.rest[path] = g.rest[path][n:]
}

var saved = regexp.MustCompile(`saved as ruling (\d+)`)

// acknowledged is the last ruling that a screen said is saved.
func acknowledged(raw []byte) int {
	n := 0
	for _, m := range saved.FindAllStringSubmatch(ansi.Strip(string(raw)), -1) {
		k, _ := strconv.Atoi(m[1])
		n = max(n, k)
	}
	return n
}

// tables reads what an export wrote but its manifest, which names the folder's files.
func tables(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	for _, name := range []string{"times.csv", "splits.csv", "suspects.csv", "clocks.csv", "systems.csv"} {
		x, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "== %s\n%s", name, x)
	}
	return b.String()
}

func exported(t *testing.T, race, out string) string {
	t.Helper()
	if b, err := asItself("export", race, "--out", out).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	return tables(t, out)
}

// The console on a terminal, killed at random moments while reads arrive and cases are
// settled by the keyboard: what a screen said is saved is on disk, and nothing that was on
// disk changes; at the end the console's own export is that of the folder read once, with
// its kept copies and without. TWINMAT_KILLS tells how many kills, TWINMAT_SEED the seed.
func TestKillsOfTheConsole(t *testing.T) {
	if testing.Short() {
		t.Skip("not in a short run")
	}
	kills, seed := 8, uint64(1)
	fmt.Sscan(os.Getenv("TWINMAT_KILLS"), &kills)
	fmt.Sscan(os.Getenv("TWINMAT_SEED"), &seed)
	rng := rand.New(rand.NewPCG(seed, 5))
	g := newGrowing(t, seed)
	total := 0
	for _, b := range g.rest {
		total += len(b)
	}
	for _, path := range g.files { // there must be something to settle
		g.grow(path, len(g.rest[path])/2)
	}
	piece := max(1, total/(kills*150))
	rulings := filepath.Join(g.dir, "rulings.jsonl")
	acked, told := 0, []byte(nil)
	for kill := range kills {
		x := startOnTerminal(t, 80, 24, "watch", g.dir, "--quiet")
		now := time.Now()
		end, key := now.Add(time.Duration(300+rng.IntN(1500))*time.Millisecond), now
		first := kill == 0 // lives until a ruling is made, however slow the machine
		for latest := now.Add(60 * time.Second); now.Before(end) || first && now.Before(latest) && acknowledged(x.written()) == 0; now = time.Now() {
			g.grow(g.files[rng.IntN(len(g.files))], 1+rng.IntN(2*piece))
			if now.After(key) { // as fast as hands are: a console doesn't take two keys at once for a yes
				x.press([]string{"\r", "\r", "\r", "\r", "u", "\x1b"}[rng.IntN(6)]) // escape leaves a case that later reads have cleared
				key = now.Add(time.Duration(100+rng.IntN(150)) * time.Millisecond)
			}
			time.Sleep(time.Duration(1+rng.IntN(20)) * time.Millisecond)
		}
		x.kill()
		acked = max(acked, acknowledged(x.written()))
		disk, err := os.ReadFile(rulings)
		if err != nil && acked > 0 {
			t.Fatalf("kill %d: %v", kill, err)
		}
		if whole := disk[:bytes.LastIndexByte(disk, '\n')+1]; !bytes.HasPrefix(whole, told) {
			t.Fatalf("kill %d: what was on disk has changed", kill)
		} else {
			told = bytes.Clone(whole)
		}
		rs, _, err := journal.Read(g.dir)
		if err != nil || len(rs) < acked {
			t.Fatalf("kill %d: %d rulings on disk, %d were said to be saved; %v", kill, len(rs), acked, err)
		}
	}
	for _, path := range g.files {
		g.grow(path, 1<<40)
	}
	once := exported(t, g.dir, filepath.Join(t.TempDir(), "once"))
	bare := filepath.Join(t.TempDir(), "bare")
	if err := os.CopyFS(bare, os.DirFS(g.dir)); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"kept", "out"} {
		if err := os.RemoveAll(filepath.Join(bare, name)); err != nil {
			t.Fatal(err)
		}
	}
	if got := exported(t, bare, filepath.Join(t.TempDir(), "bare-out")); got != once {
		t.Fatalf("without the kept copies: %s", firstDifference(once, got))
	}
	x := startOnTerminal(t, 80, 24, "watch", g.dir, "--quiet")
	x.until("settle")
	got := ""
	for end := time.Now().Add(60 * time.Second); got != once && time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		x.press("E")
		if _, err := os.Stat(filepath.Join(g.dir, "out", "manifest.json")); err == nil {
			got = tables(t, filepath.Join(g.dir, "out"))
		} else if !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
	}
	if got != once {
		t.Fatalf("the console's export: %s", firstDifference(once, got))
	}
	t.Logf("seed %d: %d kills, %d rulings said to be saved, lost 0", seed, kills, acked)
	if acked == 0 {
		t.Error("no ruling was made: nothing is tried here")
	}
}
