package follow

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
)

// The kept folder holds, below the log's own path, one file a generation of content:
// kept/logs/finish-main.csv.g1, .g2 …: bytes as they were read, appended and never changed.

func (l *Log) keptPath(path string, gen int) string {
	return filepath.Join(l.dir, "kept", filepath.FromSlash(path)) + ".g" + strconv.Itoa(gen)
}

// copy appends bytes to the current generation's copy.
func (l *Log) copy(f *file, b []byte) error {
	if !l.keep {
		return nil
	}
	if f.gens == 0 {
		f.gens = 1
	}
	if f.kept == nil {
		path := l.keptPath(f.path, f.gens)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		k, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
		if err != nil {
			return err
		}
		// What is on disk must end where this generation stood: a copy that failed half-way
		// is cut there and written again from the log.
		if info, err := k.Stat(); err == nil && info.Size() != f.offset {
			if info.Size() < f.offset {
				k.Close()
				return fmt.Errorf("%s lacks %d bytes", path, f.offset-info.Size())
			}
			if err := k.Truncate(f.offset); err != nil {
				k.Close()
				return err
			}
		}
		f.kept = k
	}
	_, err := f.kept.Write(b)
	if err != nil {
		f.kept.Close()
		f.kept = nil
	}
	return err
}

// recall reads what the kept folder holds of this log: generation by generation, the last
// one as the content that its file is expected to go on from.
func (l *Log) recall() error {
	found, err := filepath.Glob(filepath.Join(l.dir, "kept", filepath.FromSlash(l.glob)) + ".g*")
	if err != nil {
		return fmt.Errorf("the path %q is no pattern: %w", l.glob, err)
	}
	type gen struct {
		path string
		n    int
	}
	byFile := map[string][]gen{}
	for _, p := range found {
		base, num, _ := cutLast(p, ".g")
		n, err := strconv.Atoi(num)
		if err != nil || n < 1 {
			continue
		}
		rel, err := filepath.Rel(filepath.Join(l.dir, "kept"), base)
		if err != nil {
			return err
		}
		byFile[filepath.ToSlash(rel)] = append(byFile[filepath.ToSlash(rel)], gen{p, n})
	}
	paths := make([]string, 0, len(byFile))
	for p := range byFile {
		paths = append(paths, p)
	}
	sort.Strings(paths)
	for _, path := range paths {
		gens := byFile[path]
		sort.Slice(gens, func(a, b int) bool { return gens[a].n < gens[b].n })
		f := l.file(path)
		for i, g := range gens {
			if i > 0 {
				l.log.Reset(f.index)
				f.offset, f.head, f.tail = 0, nil, nil
			}
			f.gens = g.n
			if err := l.replay(f, g.path); err != nil {
				return err
			}
		}
	}
	return nil
}

func cutLast(s, sep string) (before, after string, ok bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}

func (l *Log) replay(f *file, path string) error {
	h, _, err := openRegular(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("the copy %s: %w", path, err)
	}
	defer h.Close()
	buf := make([]byte, chunk)
	for {
		n, err := h.Read(buf)
		if n > 0 {
			l.log.Append(f.index, buf[:n])
			f.moved(buf[:n])
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("the copy %s: %w", path, err)
		}
	}
}
