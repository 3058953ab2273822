// Package follow keeps a log's reads up to date while its files grow, are cut, replaced,
// rotated, downloaded again or vanish.
//
// Polling is the truth; events of the file system only make the next poll come sooner. A
// file is known by its content: before more of it is read, its beginning and what stood just
// before the place reached are compared with what was read. If they differ, the file is
// begun again, and what it held before stays known: every byte read is also written to
// the race's kept folder, one file a generation, so that a restart knows it too.
package follow

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"time"

	"twinmat/ingest/logs"
	"twinmat/reconcile/race"
)

const (
	headBytes = 1024      // compared at the beginning of a file
	tailBytes = 4096      // compared before the place reached
	chunk     = 256 << 10 // read at a time
	// A share may tell an old size for a moment. A file that seems cut or replaced is looked
	// at again after this long before it is believed.
	secondLook = 2 * time.Second
	maxFiles   = 200 // of one log
)

// Log follows the files of one [[line.log]]. It is used from one goroutine.
type Log struct {
	dir    string
	source int
	glob   string
	log    *logs.Log
	files  map[string]*file
	order  []string
	keep   bool // write to the kept folder
	clock  func() time.Time
	said   string // the last thing that was odd
}

// file is one file as far as it was read.
type file struct {
	path   string // below the race folder, with slashes
	index  int
	offset int64
	head   []byte
	tail   []byte
	size   int64
	mod    time.Time
	doubt  time.Time // when it first seemed cut or replaced
	gens   int       // generations begun in the kept folder
	kept   *os.File
	fault  string
	gone   bool
}

// Status is how one log's files stand.
type Status struct {
	Source  int
	Files   int
	Bytes   int64
	Waiting int64  // bytes on disk that were not read yet, for doubt or for fault
	Fault   string // what is wrong, "" : nothing
}

// Options say how a log is followed.
type Options struct {
	Keep  bool             // write the console's own copy: only who holds the race's lock may
	Clock func() time.Time // nil: time.Now
}

// New begins to follow a log; what the kept folder holds of it is read first.
func New(dir string, p *race.Plan, source int, o Options) (*Log, error) {
	l := &Log{dir: dir, source: source, glob: p.Logs[source].Path, log: logs.New(p, source), files: map[string]*file{}, keep: o.Keep, clock: o.Clock}
	if l.clock == nil {
		l.clock = time.Now
	}
	return l, l.recall()
}

// Read reads a log once, whole, with what the kept folder holds of it.
func Read(dir string, p *race.Plan, source int) (*race.Reads, error) {
	l, err := New(dir, p, source, Options{})
	if err != nil {
		return nil, err
	}
	if _, err := l.poll(true); err != nil {
		return nil, err
	}
	for _, path := range l.order {
		if f := l.files[path]; f.fault != "" && !f.gone {
			return nil, fmt.Errorf("%s: %s", path, f.fault)
		}
	}
	l.log.Finish()
	return l.log.Reads(), nil
}

// Poll looks at the files once. It tells whether there is anything new.
func (l *Log) Poll() (changed bool, err error) { return l.poll(false) }

// Reads is what is known of the log.
func (l *Log) Reads() *race.Reads { return l.log.Reads() }

// Status tells how the files stand.
func (l *Log) Status() Status {
	s := Status{Source: l.source, Files: len(l.order), Fault: l.said}
	for _, path := range l.order {
		f := l.files[path]
		s.Bytes += f.offset
		if f.size > f.offset {
			s.Waiting += f.size - f.offset
		}
		if f.fault != "" && s.Fault == "" {
			s.Fault = path + ": " + f.fault
		}
	}
	if len(l.order) == 0 && s.Fault == "" {
		s.Fault = "no file yet at " + l.glob
	}
	return s
}

// Close gives the kept copies back.
func (l *Log) Close() error {
	var errs []error
	for _, f := range l.files {
		if f.kept != nil {
			errs = append(errs, f.kept.Close())
			f.kept = nil
		}
	}
	return errors.Join(errs...)
}

func (l *Log) poll(whole bool) (bool, error) {
	paths, err := l.match()
	if err != nil {
		return false, err
	}
	there := map[string]bool{}
	changed := false
	l.said = ""
	for _, path := range paths {
		there[path] = true
		f := l.file(path)
		more, err := l.read(f, whole)
		changed = changed || more
		f.fault = ""
		if err != nil {
			f.fault = err.Error()
		}
	}
	for path, f := range l.files {
		f.gone = !there[path]
		if f.gone && f.offset > 0 {
			f.fault = "the file is no longer there; what it held is kept"
		}
	}
	return changed, nil
}

// match lists the files of the log, sorted by name.
func (l *Log) match() ([]string, error) {
	found, err := filepath.Glob(filepath.Join(l.dir, filepath.FromSlash(l.glob)))
	if err != nil {
		return nil, fmt.Errorf("the path %q is no pattern: %w", l.glob, err)
	}
	sort.Strings(found)
	if len(found) > maxFiles {
		l.said = fmt.Sprintf("%d files match %s; only the first %d are read", len(found), l.glob, maxFiles)
		found = found[:maxFiles]
	}
	for i, p := range found {
		rel, err := filepath.Rel(l.dir, p)
		if err != nil {
			return nil, err
		}
		found[i] = filepath.ToSlash(rel)
	}
	return found, nil
}

func (l *Log) file(path string) *file {
	f, ok := l.files[path]
	if !ok {
		f = &file{path: path, index: l.log.File(path)}
		l.files[path] = f
		l.order = append(l.order, path)
	}
	return f
}

// read takes in what is new in one file.
func (l *Log) read(f *file, whole bool) (bool, error) {
	h, info, err := openRegular(filepath.Join(l.dir, filepath.FromSlash(f.path)))
	if err != nil {
		return false, err
	}
	defer h.Close()
	size := info.Size()
	if f.offset == size && size == f.size && info.ModTime().Equal(f.mod) && f.doubt.IsZero() {
		return false, nil
	}
	same, err := f.same(h, size)
	if err != nil {
		return false, err
	}
	if !same {
		if !whole {
			if f.doubt.IsZero() {
				f.doubt = l.clock()
			}
			if l.clock().Sub(f.doubt) < secondLook {
				f.size = size
				return false, nil
			}
		}
		if err := l.again(f); err != nil {
			return false, err
		}
	}
	f.doubt = time.Time{}
	more, err := l.take(f, h)
	f.size, f.mod = max(size, f.offset), info.ModTime()
	return more || !same, err
}

// same tells whether what was read of a file still stands in it.
func (f *file) same(h *os.File, size int64) (bool, error) {
	if size < f.offset {
		return false, nil
	}
	for _, part := range []struct {
		want []byte
		at   int64
	}{{f.head, 0}, {f.tail, f.offset - int64(len(f.tail))}} {
		got := make([]byte, len(part.want))
		n, err := h.ReadAt(got, part.at)
		if err != nil && !errors.Is(err, io.EOF) {
			return false, err
		}
		if !bytes.Equal(got[:n], part.want) {
			return false, nil
		}
	}
	return true, nil
}

// again begins a file anew: another content stands under its name.
func (l *Log) again(f *file) error {
	l.log.Reset(f.index)
	f.offset, f.head, f.tail = 0, nil, nil
	if f.kept != nil {
		if err := f.kept.Close(); err != nil {
			return err
		}
		f.kept = nil
	}
	f.gens++
	return nil
}

// take reads from the place reached to the end.
func (l *Log) take(f *file, h *os.File) (bool, error) {
	buf := make([]byte, chunk)
	more := false
	for {
		n, err := h.ReadAt(buf, f.offset)
		if n > 0 {
			if kerr := l.copy(f, buf[:n]); kerr != nil {
				l.said = "the copy in kept could not be written: " + kerr.Error()
			}
			l.log.Append(f.index, buf[:n])
			f.moved(buf[:n])
			more = true
		}
		if errors.Is(err, io.EOF) {
			return more, nil
		}
		if err != nil {
			return more, err
		}
	}
}

// moved notes what was read, for the next comparison.
func (f *file) moved(b []byte) {
	f.offset += int64(len(b))
	if room := headBytes - len(f.head); room > 0 {
		f.head = append(f.head, b[:min(room, len(b))]...)
	}
	f.tail = append(f.tail, b[max(0, len(b)-tailBytes):]...)
	if len(f.tail) > tailBytes {
		f.tail = append([]byte(nil), f.tail[len(f.tail)-tailBytes:]...)
	}
}

// openRegular opens a file that is one: never a device, a pipe or a folder.
func openRegular(path string) (*os.File, fs.FileInfo, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, nil, fmt.Errorf("this is no file but %s", kind(info.Mode()))
	}
	h, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	if info, err = h.Stat(); err != nil || !info.Mode().IsRegular() {
		h.Close()
		if err == nil {
			err = fmt.Errorf("this is no file but %s", kind(info.Mode()))
		}
		return nil, nil, err
	}
	return h, info, nil
}

func kind(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeDevice != 0:
		return "a device"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "something else"
}
