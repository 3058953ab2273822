package follow

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"twinmat/ingest/logs"
)

// The kept folder holds, below the log's own path, one file a generation of content:
// kept/logs/finish-main.csv.g1, .g2 …: bytes as they were read, appended and never changed.

// maxOwed is how many bytes of a file wait in memory for a copy that can't be written. Past
// it they are let go, and the file is copied again from its beginning once it can be.
const maxOwed = 64 << 20

// kept is the copy of one file.
type kept struct {
	gen   int   // the generation that is written, 0: none yet
	at    int64 // bytes of it that are on disk
	out   *os.File
	owed  []byte // read, not on disk yet
	debts []debt // earlier generations' that are not on disk yet
	short bool   // bytes were let go
}

var errCut = errors.New("the copy was cut by somebody")

type debt struct {
	gen  int
	at   int64
	owed []byte
}

func (k *kept) owes() int64 {
	n := len(k.owed)
	for _, d := range k.debts {
		n += len(d.owed)
	}
	return int64(n)
}

func (k *kept) owe(b []byte) {
	if k.gen == 0 {
		k.gen = 1
	}
	if k.short {
		return
	}
	if k.owes()+int64(len(b)) > maxOwed {
		k.short, k.owed = true, nil
		return
	}
	k.owed = append(k.owed, b...)
}

// next begins another generation.
func (k *kept) next() {
	if len(k.owed) > 0 {
		k.debts = append(k.debts, debt{k.gen, k.at, k.owed})
	}
	k.close()
	k.gen, k.at, k.owed, k.short = k.gen+1, 0, nil, false
}

func (k *kept) close() error {
	if k.out == nil {
		return nil
	}
	err := k.out.Close()
	k.out = nil
	return err
}

func (l *Log) keptPath(path string, gen int) string {
	return filepath.Join(l.dir, "kept", filepath.FromSlash(path)) + ".g" + strconv.Itoa(gen)
}

// pay writes what is owed to the copies of a file.
func (l *Log) pay(f *file) error {
	k := &f.kept
	if !l.keep || k.owes() == 0 && !k.short {
		return nil
	}
	for len(k.debts) > 0 {
		d := &k.debts[0]
		out, err := l.openKept(f.path, d.gen, d.at)
		if err != nil {
			return err
		}
		n, err := out.Write(d.owed)
		d.at, d.owed = d.at+int64(n), d.owed[n:]
		if err = errors.Join(err, out.Close()); err != nil {
			return err
		}
		k.debts = k.debts[1:]
	}
	if k.out == nil {
		out, err := l.openKept(f.path, k.gen, k.at)
		if err != nil {
			return err
		}
		k.out = out
	}
	n, err := k.out.Write(k.owed)
	k.at, k.owed = k.at+int64(n), k.owed[n:]
	if err != nil {
		k.close()
		return err
	}
	if len(k.owed) == 0 {
		k.owed = k.owed[:0:0]
	}
	return nil
}

// openKept opens a copy to go on where it stood. What stands past that is of a write that
// failed half-way. A copy that others cut is not written over: the bytes would stand at a
// wrong place.
func (l *Log) openKept(path string, gen int, at int64) (*os.File, error) {
	name := l.keptPath(path, gen)
	if _, err := os.Stat(l.dir); err != nil { // the race folder is gone: none is made in its place
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return nil, err
	}
	out, err := os.OpenFile(name, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return nil, err
	}
	info, err := out.Stat()
	switch {
	case err != nil:
	case info.Size() > at:
		err = out.Truncate(at)
	case info.Size() < at:
		err = fmt.Errorf("%w: %s has %d bytes, it had %d", errCut, name, info.Size(), at)
	}
	if err != nil {
		out.Close()
		return nil, err
	}
	return out, nil
}

// recall reads what the kept folder holds of this log: generation by generation, the last
// one as the content that its file is expected to go on from.
func (l *Log) recall() error {
	root := filepath.Join(l.dir, "kept")
	found, err := logs.Match(root, l.glob+".g*")
	if err != nil {
		return err
	}
	byFile := map[string][]int{}
	var paths []string
	for _, p := range found {
		i := strings.LastIndex(p, ".g")
		gen, err := strconv.Atoi(p[i+2:])
		if err != nil || gen < 1 {
			continue
		}
		if byFile[p[:i]] == nil {
			paths = append(paths, p[:i])
		}
		byFile[p[:i]] = append(byFile[p[:i]], gen)
	}
	slices.SortFunc(paths, cmp.Compare[string])
	for _, path := range paths {
		gens := byFile[path]
		slices.Sort(gens)
		f := l.file(path)
		for i, gen := range gens {
			if i > 0 {
				l.log.Reset(f.index)
				f.restart()
			}
			if err := l.replay(f, l.keptPath(path, gen)); err != nil {
				return err
			}
			f.kept.gen, f.kept.at = gen, f.offset
		}
		f.size = -1 // not seen yet: its first look is a whole one
	}
	return nil
}

func (l *Log) replay(f *file, path string) error {
	h, _, err := logs.Regular(path, openFile)
	if err != nil {
		return fmt.Errorf("the copy %s: %w", path, err)
	}
	defer h.Close()
	buf := make([]byte, chunk)
	for {
		n, err := h.Read(buf)
		if n > 0 {
			l.log.Append(f.index, buf[:n])
			f.went(buf[:n])
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("the copy %s: %w", path, err)
		}
	}
}
