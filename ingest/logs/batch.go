package logs

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"twinmat/reconcile/race"
)

// pieceLen is how much of a file is read at once.
const pieceLen = 256 << 10

func newScratch() *scratch {
	return &scratch{piece: make([]byte, pieceLen), table: [2]*tagTable{{}, {bibs: true}}}
}

// readFiles reads the files of Plan.Logs[source] below dir, as they are now and whole. No
// file is no error: logs come later. A file that can't be read is one, and names it;
// the reads of the others are given all the same.
func (s *scratch) readFiles(dir string, p *race.Plan, source int) (*race.Reads, error) {
	l := New(p, source)
	l.lend(s)
	paths, err := Match(dir, p.Logs[source].Path)
	l.store.drop = len(paths) == 1
	for _, path := range paths {
		if e := l.readFile(filepath.Join(dir, filepath.FromSlash(path)), path, s.piece); e != nil {
			err = errors.Join(err, e)
		}
	}
	l.Finish()
	r := l.Reads()
	s.takeBack(&l.store)
	return r, err
}

// lend lets a log that is read once, to its end, use memory that others have used.
func (l *Log) lend(s *scratch) {
	l.tags = s.table[0]
	if l.wish.hand {
		l.tags = s.table[1]
	}
	s.lend(&l.store)
}

func (l *Log) readFile(name, path string, buf []byte) error {
	f, _, err := Regular(name, Open)
	if err != nil {
		return err
	}
	defer f.Close()
	i := l.File(path)
	for {
		n, err := f.Read(buf)
		l.Append(i, buf[:n])
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// Match lists the files that a log's path or glob names below dir, by name, with slashes
// and relative to dir. Folders are no logs; what else isn't a regular file is listed, and
// told when it is opened.
func Match(dir, path string) ([]string, error) {
	names := []string{filepath.Join(dir, filepath.FromSlash(path))}
	if strings.ContainsAny(path, "*?[") {
		var err error
		names, err = filepath.Glob(filepath.Join(escape(dir), filepath.FromSlash(path)))
		if err != nil {
			return nil, fmt.Errorf("path %q: %w", path, err)
		}
	}
	var found []string
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil || info.IsDir() {
			continue
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return nil, err
		}
		found = append(found, filepath.ToSlash(rel))
	}
	slices.Sort(found)
	return found, nil
}

// escape keeps a folder's own name from being read as a pattern.
func escape(dir string) string {
	if runtime.GOOS == "windows" {
		return dir // there the backslash can't be used for it
	}
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(dir)
}

// ReadAll reads every log of the plan, as many at once as there are processors, the
// largest first. The errors of all are joined; each log's reads are given, as far as they
// could be read.
func ReadAll(dir string, p *race.Plan) ([]*race.Reads, error) {
	order := make([]int, len(p.Logs))
	size := make([]int64, len(p.Logs))
	for i := range order {
		order[i] = i
		paths, _ := Match(dir, p.Logs[i].Path)
		for _, path := range paths {
			if info, err := os.Stat(filepath.Join(dir, filepath.FromSlash(path))); err == nil {
				size[i] += info.Size()
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return int(min(max(size[b]-size[a], -1), 1))
	})
	reads := make([]*race.Reads, len(p.Logs))
	errs := make([]error, len(p.Logs))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(order)) {
		wg.Go(func() {
			s := newScratch()
			for {
				n := int(next.Add(1)) - 1
				if n >= len(order) {
					return
				}
				i := order[n]
				reads[i], errs[i] = s.readFiles(dir, p, i)
			}
		})
	}
	wg.Wait()
	return reads, errors.Join(errs...)
}
