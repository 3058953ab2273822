// Package ready looks a race folder over before the race: plan and lists, chips against
// athletes, waves, logs, clocks. It says what it found as a colleague would, in order of
// the day, each thing with its place in a file, and whether the race can be timed as it
// stands.
package ready

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"twinmat/ingest"
	"twinmat/ingest/follow"
	"twinmat/ingest/journal"
	"twinmat/ingest/logs"
	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

// Survey is a race folder with all that can be read of it, faulty or not.
type Survey struct {
	*ingest.Folder          // Race is nil when race.toml is faulty
	Files          [][]File // per source
	Faults         []string // per source: why it couldn't be read; "" : it could
	RulingsFault   string
	Now            race.Instant // by this laptop's clock
}

// File is one file of a log as the disk has it.
type File struct {
	Path    string // below the race folder, with slashes
	Size    int64
	Changed race.Instant // by the disk's clock
	Grew    bool         // while it was looked at
}

// Read takes in a race folder or its race.toml. What can't be read is noted, and the rest
// read all the same; the error says that there is no such folder. A log is seen to grow
// when it does so while everything is read.
func Read(path string, clock func() time.Time) (*Survey, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("no race there: %w", err)
	}
	r, problems := plan.Draft(path)
	s := &Survey{Folder: &ingest.Folder{Race: r, Problems: problems}, Now: race.Of(clock())}
	if r == nil {
		return s, nil
	}
	n := len(r.Plan.Logs)
	s.Files, s.Faults, s.Reads = make([][]File, n), make([]string, n), make([]*race.Reads, n)
	for i := range r.Plan.Logs {
		s.Files[i] = s.list(i)
	}
	for i := range r.Plan.Logs {
		x, err := follow.Read(r.Dir, r.Plan, i)
		if err != nil {
			s.Faults[i] = err.Error()
			continue
		}
		s.Reads[i] = x
	}
	for i := range r.Plan.Logs {
		s.grown(i)
	}
	s.Now = race.Of(clock())
	var err error
	if s.Rulings, s.Journal, err = journal.Read(r.Dir); err != nil {
		s.RulingsFault = err.Error()
	}
	return s, nil
}

// list is a log's files with their sizes.
func (s *Survey) list(source int) []File {
	names, err := logs.Match(s.Dir, s.Plan.Logs[source].Path)
	if err != nil {
		return nil // read again by follow, which tells
	}
	var out []File
	for _, name := range names {
		if info, err := os.Stat(filepath.Join(s.Dir, filepath.FromSlash(name))); err == nil {
			out = append(out, File{Path: name, Size: info.Size(), Changed: race.Of(info.ModTime())})
		}
	}
	return out
}

// grown looks at a log's files once more.
func (s *Survey) grown(source int) {
	before := s.Files[source]
	s.Files[source] = s.list(source)
	for i := range s.Files[source] {
		f := &s.Files[source][i]
		for _, b := range before {
			if b.Path == f.Path {
				f.Grew = f.Size > b.Size
			}
		}
	}
}
