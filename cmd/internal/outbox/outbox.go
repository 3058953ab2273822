// Package outbox puts a race's exports on disk: each file is replaced whole or not at all,
// and what changed since the export before is told.
package outbox

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"sync"

	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
	"twinmat/reconcile/report"
)

// Report says what an export did.
type Report struct {
	Dir     string
	States  map[string]int
	Open    int // open suspects of weight hold
	Changes []export.Change
	First   bool              // nothing stood there before
	More    int               // tags that nobody owns beyond those that are listed
	Other   map[string]string // files that went under another name, the old being held open
}

// String is the report in a few lines for a person.
func (r *Report) String() string {
	s := r.written()
	if r.More > 0 {
		s += fmt.Sprintf("\n%d more tags that nobody owns are not listed one by one: each was read at fewer places or less often", r.More)
	}
	for _, o := range r.others() {
		s += "\n" + o
	}
	switch {
	case r.First:
		return s
	case len(r.Changes) == 0:
		return s + "\n" + r.differs()
	}
	s += fmt.Sprintf("\n%s (changes.csv):", r.differs())
	for i, c := range r.Changes {
		if i == 10 {
			return s + fmt.Sprintf("\n  and %d more", len(r.Changes)-i)
		}
		s += fmt.Sprintf("\n  %s %s: %s → %s", c.Bib, c.What, cmp.Or(c.Before, "none"), cmp.Or(c.After, "none"))
	}
	return s
}

// Short is the report in a line, for a screen that shows the changes elsewhere.
func (r *Report) Short() string {
	return strings.Join(append([]string{r.written()}, append(r.others(), r.differs())...), "; ")
}

func (r *Report) written() string {
	var parts []string
	for _, s := range race.States {
		if r.States[s] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", r.States[s], s))
		}
	}
	if len(parts) == 0 {
		parts = []string{"nobody is listed"}
	}
	return fmt.Sprintf("written to %s: %s; %s something", r.Dir, strings.Join(parts, ", "), race.Counted(r.Open, "open suspect holds", "open suspects hold"))
}

// others tells of the files that went under another name.
func (r *Report) others() []string {
	var out []string
	for _, n := range slices.Sorted(maps.Keys(r.Other)) {
		out = append(out, fmt.Sprintf("%s is held open by another program and still the old one: the new one is %s", n, r.Other[n]))
	}
	return out
}

func (r *Report) differs() string {
	switch {
	case r.First:
		return "no export stood there before"
	case len(r.Changes) == 0:
		return "nothing differs from the export before"
	}
	return race.Counted(len(r.Changes), "cell differs", "cells differ") + " from the export before"
}

// MayWrite tells whether a file, or a folder of them, may be put there: not in place of what the
// race rests on, nor in a folder of its logs or their copies, where a pattern would read it as one.
func MayWrite(dir string, p *race.Plan, path string) error {
	mine := []string{"race.toml", "athletes.csv", "chips.csv", "rulings.jsonl", "kept"}
	for i := range p.Logs {
		folder := filepath.Dir(p.Logs[i].Path)
		for strings.ContainsAny(folder, "*?[") {
			folder = filepath.Dir(folder)
		}
		if folder != "." && filepath.IsLocal(folder) { // the race folder has other files too, and so has a stick
			mine = append(mine, folder)
		}
	}
	at, err := filepath.Abs(path)
	root, wrong := filepath.Abs(dir)
	if err = errors.Join(err, wrong); err != nil {
		return err
	}
	for q := at; ; q = filepath.Dir(q) {
		for _, name := range mine {
			if own := filepath.Join(root, name); q == own || same(q, own) {
				return fmt.Errorf("%s is the race's own: nothing is written there; want another place", own)
			}
		}
		if q == filepath.Dir(q) {
			return nil
		}
	}
}

func same(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

// makeFolder makes the folder for the exports. One below the race folder is not made where
// that is gone: on a disk that was pulled out, nobody would look for it there.
func makeFolder(dir, out string, p *race.Plan) error {
	if err := MayWrite(dir, p, out); err != nil {
		return err
	}
	if _, err := os.Stat(dir); err != nil {
		if rel, below := filepath.Rel(dir, out); below == nil && filepath.IsLocal(rel) {
			return err
		}
	}
	return os.MkdirAll(out, 0o755)
}

// Write writes all exports of a state to out (default: the race folder's out).
func Write(dir, out string, st *race.State, version string, o export.Options) (*Report, error) {
	if out == "" {
		out = filepath.Join(dir, "out")
	}
	if err := makeFolder(dir, out, st.Plan); err != nil {
		return nil, fmt.Errorf("the folder for the exports: %w", err)
	}
	hashes := hashInputs(dir, st) // beside the writing
	r := &Report{Dir: out, States: export.States(st), Open: export.OpenHolds(st), More: st.MoreStrays}
	var times bytes.Buffer // what changed is told against it; the others go straight to the disk
	if err := export.Times(&times, st, o); err != nil {
		return nil, fmt.Errorf("times.csv: %w", err)
	}
	if err := r.compare(filepath.Join(out, "times.csv"), times.Bytes()); err != nil {
		return nil, err
	}
	files := map[string]content{}
	for _, f := range export.Files {
		files[f.Name] = func(w io.Writer) error { return f.Write(w, st, o) }
	}
	files["times.csv"] = bytesOf(times.Bytes())
	compared := make(chan struct{})
	files["splits.csv"] = func(w io.Writer) error {
		defer close(compared)
		return r.splits(w, filepath.Join(out, "splits.csv"), st, o)
	}
	files["changes.csv"] = func(w io.Writer) error {
		<-compared
		return export.Changes(w, r.Changes)
	}
	files["announcer.html"] = func(w io.Writer) error { return report.Announcer(w, st) }
	files["manifest.json"] = func(w io.Writer) error {
		inputs, err := hashes()
		if err != nil {
			return err
		}
		return export.Manifest(w, st, version, inputs)
	}
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names) // times.csv, the table that changes are told against, comes last
	var err error
	if r.Other, err = replace(out, names, files); err != nil {
		return nil, err
	}
	return r, nil
}

// Since lists the bibs, in order, of which an export now would write another row than the
// times.csv that stands in out (default: the race folder's); exported is false where there
// is none.
func Since(dir, out string, st *race.State) (bibs []string, exported bool, err error) {
	if out == "" {
		out = filepath.Join(dir, "out")
	}
	old, err := os.ReadFile(filepath.Join(out, "times.csv"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, false, nil
	}
	var now bytes.Buffer
	if err := errors.Join(err, export.Times(&now, st, export.Options{})); err != nil {
		return nil, false, err
	}
	changes, err := export.Compare(bytes.NewReader(old), &now)
	for _, c := range changes {
		if n := len(bibs); n == 0 || bibs[n-1] != c.Bib {
			bibs = append(bibs, c.Bib)
		}
	}
	return bibs, true, err
}

// Inputs names every file that a state rests on, with its size and hash.
func Inputs(dir string, st *race.State) ([]export.Input, error) { return hashInputs(dir, st)() }

// hashInputs begins to hash every file that the state rests on; the function returned waits
// for it.
func hashInputs(dir string, st *race.State) func() ([]export.Input, error) {
	paths := []string{"race.toml", "athletes.csv", "chips.csv", "rulings.jsonl"}
	seen := map[string]bool{}
	for _, in := range st.Inputs {
		if in == nil {
			continue
		}
		for _, f := range in.Files {
			if !seen[f.Path] {
				seen[f.Path] = true
				paths = append(paths, f.Path)
			}
		}
	}
	sort.Strings(paths[4:])
	inputs := make([]export.Input, len(paths))
	errs := make([]error, len(paths))
	var wg sync.WaitGroup
	for i, p := range paths {
		wg.Go(func() { inputs[i], errs[i] = hash(dir, p) })
	}
	return func() ([]export.Input, error) {
		wg.Wait()
		var out []export.Input
		for i, err := range errs {
			if errors.Is(err, fs.ErrNotExist) {
				continue // rulings.jsonl before the first ruling; a log that went away
			}
			if err != nil {
				return nil, err
			}
			out = append(out, inputs[i])
		}
		return out, nil
	}
}

func hash(dir, path string) (export.Input, error) {
	f, err := os.Open(filepath.Join(dir, filepath.FromSlash(path)))
	if err != nil {
		return export.Input{}, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err != nil {
		return export.Input{}, err
	}
	return export.Input{Path: path, Size: n, SHA256: hex.EncodeToString(h.Sum(nil))}, nil
}
