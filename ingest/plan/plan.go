// Package plan reads what a race folder says before the first read comes: the plan in
// race.toml, the athletes and their chips. Everything wrong in the three files is found in
// one pass and told with file, line and column; only a race without a fault is handed on.
//
// Bytes go through text.go (encodings), then toml.go and tree.go (the document as a tree in
// which every value knows its place) or csv.go (cells that know theirs); sheet.go takes typed
// values out of the tree in the forms of forms.go and instant.go; setup.go, lines.go and
// courses.go make the plan, lists.go athletes and chips. compare.go tells what a later version
// of the folder would do to times that are out.
package plan

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"twinmat/reconcile/race"
)

// The files of a race folder that this package reads.
const (
	TomlFile     = "race.toml"
	AthletesFile = "athletes.csv"
	ChipsFile    = "chips.csv"
)

// A plan is written by hand, so a megabyte is far above any; a list of a hundred thousand
// athletes is under ten.
const (
	maxToml = 1 << 20
	maxList = 64 << 20
)

// Race is a race folder's plan and lists.
type Race struct {
	Dir          string // the race folder; "" from Parse
	Plan         *race.Plan
	Athletes     []race.Athlete
	Chips        []race.Chip
	ZerosDropped bool     // no tag of chips.csv begins with 0: a log's leading zeros may be stripped to find its owner
	Files        []string // race.toml, athletes.csv, chips.csv as found
	LogAt        []Place  // beside Plan.Logs: its path in race.toml
	WaveAt       []Place  // beside Plan.Waves: its [[wave]] in race.toml
}

// Place is where something stands in a file.
type Place struct{ Line, Column int }

// Load reads a race folder, given as the folder or as its race.toml. The race is nil when
// any problem is more than a warning: half a list of athletes must not pass for the whole.
func Load(path string) (*Race, []Problem) {
	return whole(Draft(path))
}

// Draft reads like Load and hands on what is sound even when not everything is, for a look
// before the race. The race is nil only when race.toml itself is faulty.
func Draft(path string) (*Race, []Problem) {
	var found problems
	dir, file := split(path)
	if name := filepath.Base(file); name != TomlFile {
		found.add(Problem{File: name, What: "not a race", Want: "a race folder or its " + TomlFile})
		return nil, found.sorted()
	}
	r := &Race{Dir: dir}
	toml := r.read(&found, file, maxToml, "the plan: a race folder has one; `twinmat new` writes one to start from")
	if toml == nil {
		return nil, found.sorted()
	}
	athletes := r.read(&found, filepath.Join(dir, AthletesFile), maxList, "the list of athletes, with the columns bib and wave at least")
	chips := r.read(&found, filepath.Join(dir, ChipsFile), maxList, "the list of chips, with the columns tag and bib")
	if !r.fill(&found, toml, athletes, chips) {
		return nil, found.sorted()
	}
	return r, found.sorted()
}

// Parse is Load without a folder: nil for a list stands for a list that isn't there and isn't missed.
func Parse(toml, athletes, chips []byte) (*Race, []Problem) {
	var found problems
	r := &Race{}
	if !r.fill(&found, toml, athletes, chips) {
		return nil, found.sorted()
	}
	return whole(r, found.sorted())
}

// whole withholds a race that has more against it than warnings.
func whole(r *Race, found []Problem) (*Race, []Problem) {
	if !Sound(found) {
		return nil, found
	}
	return r, found
}

// split finds folder and plan of a path that names either.
func split(path string) (dir, file string) {
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
		return filepath.Dir(path), path
	}
	return path, filepath.Join(path, TomlFile)
}

// read takes in a whole file and notes it among the found; nil when there is none to take in.
func (r *Race) read(found *problems, path string, limit int64, want string) []byte {
	name := filepath.Base(path)
	tell := func(what, want string) []byte {
		found.add(Problem{File: name, What: what, Want: want})
		return nil
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return tell("there is no "+path, want)
	case err != nil:
		return tell(err.Error(), want)
	case !info.Mode().IsRegular():
		return tell(path+" is not a file", want)
	}
	f, err := os.Open(path)
	if err != nil {
		return tell(err.Error(), "a file that may be read")
	}
	defer f.Close()
	// The file may grow while it is read: the limit is on what is taken in, not on its size.
	b, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return tell(err.Error(), "a file that can be read to its end")
	}
	if int64(len(b)) > limit {
		return tell(fmt.Sprintf("%s is larger than %d bytes", name, limit), "a smaller file")
	}
	r.Files = append(r.Files, path)
	return b
}

// fill makes plan and lists of the files' bytes. False: the plan is faulty; the lists are
// looked through all the same.
func (r *Race) fill(found *problems, toml, athletes, chips []byte) bool {
	s := readSetup(found, toml)
	if r.Dir != "" {
		s.seeLogs(r.Dir)
	}
	r.Plan = s.plan
	r.LogAt, r.WaveAt = s.places(s.paths), s.places(s.waves)
	readLists(r, s, athletes, chips)
	return !s.faulty
}
