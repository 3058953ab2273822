// Package follow keeps a log's reads up to date while its files grow, are cut, replaced,
// rotated, downloaded again or vanish.
//
// Polling is the truth; events of the file system only make the next poll come sooner. A
// file is known by its content: before more of it is read, its beginning and what stood just
// before the place reached are compared with what was read, and all of it once it has been
// quiet. If they differ, the file is begun again, and what it held before stays known: every
// byte read is also written to the race's kept folder, one file a generation, so that a
// restart knows it too.
package follow

import (
	"errors"
	"fmt"
	"hash/maphash"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"twinmat/ingest/logs"
	"twinmat/reconcile/race"
)

const (
	headBytes = 1024      // compared at the beginning of a file
	tailBytes = 4096      // compared before the place reached
	chunk     = 256 << 10 // read at a time
	// A share may tell an old size for a moment. A file that is shorter, and else the same, is
	// looked at again after this long before it is believed. A file that has been quiet for
	// so long is compared whole.
	secondLook = 2 * time.Second
	// One that is never quiet is compared whole so often.
	wholeLook = 30 * time.Second
	MaxFiles  = 200 // of one log: more are not read
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
	got    []byte       // scratch
	sum    maphash.Hash // of all that was read
	size   int64
	mod    time.Time
	moved  time.Time // when size or time last changed, as seen here
	whole  time.Time // when all of it was last compared
	sure   bool      // compared whole since it last changed
	doubt  time.Time // when it first seemed cut
	begun  int       // how often it was begun again
	fault  string
	gone   bool
	kept   kept
}

// Status is how one log's files stand.
type Status struct {
	Source  int
	Files   int
	Waiting int64  // bytes on disk that were not read yet, for doubt or for fault
	Begun   int    // how often a file was begun again: cut, replaced, downloaded anew
	Owed    int64  // bytes read that are not in the kept folder yet
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
		s.Begun += f.begun
		s.Owed += f.kept.owes()
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
		errs = append(errs, f.kept.close())
	}
	return errors.Join(errs...)
}

func (l *Log) poll(whole bool) (bool, error) {
	l.said = ""
	paths, err := l.match()
	if err != nil {
		return false, err
	}
	there := map[string]bool{}
	changed := false
	for _, path := range paths {
		there[path] = true
		f := l.file(path)
		more, err := l.read(f, whole)
		changed = changed || more
		f.fault = ""
		if err != nil {
			f.fault = plain(err)
		}
	}
	for _, path := range l.order {
		f := l.files[path]
		f.gone = !there[path]
		if f.gone && f.offset > 0 {
			f.fault = "the file is no longer there; what it held is kept"
		}
		err := l.pay(f)
		if !f.gone && (errors.Is(err, errCut) || err == nil && f.kept.short) {
			l.again(f) // into a copy that is whole
			continue
		}
		if err != nil {
			l.said = "the copy in kept could not be written, and is tried again: " + err.Error()
		}
	}
	return changed, nil
}

// match lists the files of the log, sorted by name.
func (l *Log) match() ([]string, error) {
	found, err := logs.Match(l.dir, l.glob)
	if err != nil {
		return nil, err
	}
	if len(found) > MaxFiles {
		l.said = fmt.Sprintf("%d files match %s; only the first %d are read", len(found), l.glob, MaxFiles)
		found = found[:MaxFiles]
	}
	if len(found) == 0 && !strings.ContainsAny(l.glob, "*?[") {
		if info, err := os.Stat(filepath.Join(l.dir, filepath.FromSlash(l.glob))); err == nil && info.IsDir() {
			l.said = l.glob + ": this is no file but a folder"
		}
	}
	return found, nil
}

// plain is an error without the long way to the file, which is named beside it.
func plain(err error) string {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err.Error()
	}
	return err.Error()
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
