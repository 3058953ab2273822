// Package replay plays a race's logs into a copy of its folder as they came: every line of
// every file, the bad ones too, at the pace of the race clock or faster.
package replay

import (
	"bytes"
	"container/heap"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"twinmat/ingest"
	"twinmat/reconcile"
	"twinmat/reconcile/race"
)

// Options say what is played.
type Options struct {
	Speed    float64      // seconds of the race a second; 0: all at once
	From, To race.Instant // on the race clock, race.NoInstant: none; what came before From is there at once, what came after To stays out
	Sleep    func(context.Context, time.Duration) error
	Begins   func() // told when the copy stands and its logs begin to come; nil: nobody is
}

// tape is one file, line by line.
type tape struct {
	path  string // below the race folder
	lines [][]byte
	at    []race.Instant // when each line came; never falls: a file is written in order
}

// Into plays the race in folder into dir, which must not hold a race. Plan and lists are
// copied first; rulings are not: they are the operator's to make again.
func Into(ctx context.Context, folder, dir string, o Options) error {
	f, err := ingest.Read(folder)
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(dir, "race.toml")); err == nil {
		return fmt.Errorf("%s holds a race already; replay wants a new folder", dir)
	}
	tapes, err := load(f, reconcile.Compute(f.Input()))
	if err != nil {
		return err
	}
	if err := copyLists(f.Dir, dir); err != nil {
		return err
	}
	if o.Begins != nil {
		o.Begins()
	}
	return play(ctx, dir, tapes, o)
}

// copyLists copies plan and lists. Who may read the names in a list may read its copy, and nobody else;
// whoever practises may write it.
func copyLists(from, to string) error {
	if err := os.MkdirAll(filepath.Join(to, "logs"), 0o755); err != nil {
		return err
	}
	for _, n := range []string{"athletes.csv", "chips.csv", "race.toml"} { // the plan last: then the rest is there
		path := filepath.Join(from, n)
		info, err := os.Stat(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(to, n), b, info.Mode().Perm()|0o200); err != nil {
			return err
		}
	}
	return nil
}

// load cuts every log file into lines and finds when each came: its read's time on the race
// clock, and for the lines between reads the one before.
func load(f *ingest.Folder, st *race.State) ([]tape, error) {
	var tapes []tape
	seen := map[string]bool{}
	for s, in := range f.Reads {
		times := make([]map[uint32]race.Instant, len(in.Files))
		for i := range times {
			times[i] = map[uint32]race.Instant{}
		}
		for t := range in.Tags.All() {
			for _, r := range t.Reads {
				times[r.File][r.Line] = onRace(st, s, r.At)
			}
		}
		for i, file := range in.Files {
			if seen[file.Path] {
				continue
			}
			seen[file.Path] = true
			b, err := os.ReadFile(filepath.Join(f.Dir, filepath.FromSlash(file.Path)))
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, err
			}
			t := cut(file.Path, b, times[i])
			if err := t.addKept(f.Dir); err != nil {
				return nil, err
			}
			tapes = append(tapes, t)
		}
	}
	return tapes, nil
}

// onRace lays a moment of a log's own clock on the race clock. How far that clock is ahead is told
// by moments of the race: the second look asks at the moment that the first one found, so that a
// clock which was set in mid-race is laid by its stretch.
func onRace(st *race.State, source int, own race.Instant) race.Instant {
	at := own
	for range 2 {
		at = own.Add(-st.Own(source, at).Sub(at))
	}
	return at
}

// cut splits a file after each newline; in UTF-16 a newline is a whole code unit.
func cut(path string, b []byte, times map[uint32]race.Instant) tape {
	t := tape{path: path}
	unit, low := 1, 0
	if bytes.HasPrefix(b, []byte{0xff, 0xfe}) {
		unit = 2
	} else if bytes.HasPrefix(b, []byte{0xfe, 0xff}) {
		unit, low = 2, 1
	}
	from := 0
	for i := 0; i+unit <= len(b); i += unit {
		if b[i+low] == '\n' && (unit == 1 || b[i+1-low] == 0) {
			t.lines = append(t.lines, b[from:i+unit])
			from = i + unit
		}
	}
	if from < len(b) {
		t.lines = append(t.lines, b[from:])
	}
	last := race.NoInstant
	t.at = make([]race.Instant, len(t.lines))
	for i := range t.lines {
		if at, ok := times[uint32(i+1)]; ok {
			last = max(last, at)
		}
		t.at[i] = last
	}
	return t
}

// addKept adds, at the end, the lines that only the kept folder still holds, each as often
// as the content that had it most has it more than the file.
func (t *tape) addKept(dir string) error {
	have := map[string]int{}
	for _, l := range t.lines {
		have[string(l)]++
	}
	for gen := 1; ; gen++ {
		b, err := os.ReadFile(filepath.Join(dir, "kept", filepath.FromSlash(t.path)) + ".g" + strconv.Itoa(gen))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		now := map[string]int{}
		old := cut(t.path, b, nil).lines
		for i, l := range old {
			if now[string(l)]++; now[string(l)] <= have[string(l)] {
				continue
			}
			if i == len(old)-1 && !bytes.HasSuffix(l, []byte("\n")) {
				continue // it never was a line, or its whole stands elsewhere
			}
			have[string(l)]++
			t.add(l)
		}
	}
}

// add puts a line at the end, which may be half a line so far.
func (t *tape) add(line []byte) {
	at := race.NoInstant
	if n := len(t.lines); n > 0 {
		at = t.at[n-1]
		if last := t.lines[n-1]; !bytes.HasSuffix(last, []byte("\n")) && !bytes.HasSuffix(last, []byte("\n\x00")) {
			if bytes.HasPrefix(line, last) { // this is the whole of it
				t.lines[n-1] = line
				return
			}
			t.lines[n-1] = append(bytes.Clone(last), '\n')
		}
	}
	t.lines, t.at = append(t.lines, line), append(t.at, at)
}

type queue struct {
	tapes []tape
	next  []int
	order []int // a heap of the tapes that have lines left
}

func (q *queue) Len() int { return len(q.order) }
func (q *queue) Less(a, b int) bool {
	x, y := q.order[a], q.order[b]
	if ax, ay := q.tapes[x].at[q.next[x]], q.tapes[y].at[q.next[y]]; ax != ay {
		return ax < ay
	}
	return x < y
}
func (q *queue) Swap(a, b int) { q.order[a], q.order[b] = q.order[b], q.order[a] }
func (q *queue) Push(x any)    { q.order = append(q.order, x.(int)) }
func (q *queue) Pop() any {
	x := q.order[len(q.order)-1]
	q.order = q.order[:len(q.order)-1]
	return x
}

// tick is how often a playing tape writes: what came within it is one append.
const tick = 50 * time.Millisecond

// play writes the lines in the order in which they came.
func play(ctx context.Context, dir string, tapes []tape, o Options) error {
	if o.Sleep == nil {
		o.Sleep = sleep
	}
	q := &queue{tapes: tapes, next: make([]int, len(tapes))}
	for i := range tapes {
		if len(tapes[i].lines) > 0 {
			q.order = append(q.order, i)
		}
	}
	heap.Init(q)
	out := make([]io.WriteCloser, len(tapes))
	defer func() {
		for _, w := range out {
			if w != nil {
				w.Close()
			}
		}
	}()
	pending := make([][]byte, len(tapes))
	clock := o.From // the race clock of what is written
	for q.Len() > 0 {
		i := q.order[0]
		at, text := tapes[i].at[q.next[i]], tapes[i].lines[q.next[i]]
		if o.To.Known() && at.Known() && at > o.To {
			break
		}
		if at.Known() && (!o.From.Known() || at > o.From) {
			if !clock.Known() {
				clock = at
			}
			step := race.Millis(float64(tick.Milliseconds()) * o.Speed)
			for o.Speed > 0 && at.Sub(clock) > step {
				if err := flush(dir, tapes, out, pending); err != nil {
					return err
				}
				if err := o.Sleep(ctx, tick); err != nil {
					return err
				}
				clock = clock.Add(max(step, 1))
			}
		}
		pending[i] = append(pending[i], text...)
		q.next[i]++
		if q.next[i] < len(tapes[i].lines) {
			heap.Fix(q, 0)
		} else {
			heap.Pop(q)
		}
	}
	return flush(dir, tapes, out, pending)
}

func flush(dir string, tapes []tape, out []io.WriteCloser, pending [][]byte) error {
	for i, b := range pending {
		if len(b) == 0 {
			continue
		}
		if out[i] == nil {
			path := filepath.Join(dir, filepath.FromSlash(tapes[i].path))
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				return err
			}
			f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o644)
			if err != nil {
				return err
			}
			out[i] = f
		}
		if _, err := out[i].Write(b); err != nil {
			return err
		}
		pending[i] = b[:0]
	}
	return nil
}

func sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
