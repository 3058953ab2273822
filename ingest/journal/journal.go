// Package journal keeps the rulings on disk: rulings.jsonl in the race folder, one record a
// line, appended and never rewritten. A ruling is on disk when Append returns. One writer at
// a time holds a lock; anybody may read.
//
// A record ends in a checksum of all that stands before it. What a crash leaves half
// written at the end is put aside and told; damage anywhere else makes the race read-only,
// with the line named, for a ruling that can't be read must not be left out in silence.
package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"twinmat/reconcile/race"
)

// File is the name of the journal in a race folder.
const File = "rulings.jsonl"

const lockFile = "rulings.lock"

// Journal is rulings.jsonl open for writing. It may be used from several goroutines.
type Journal struct {
	path string
	disk disk
	lock keeper
	told Report

	mu      sync.Mutex // guards what follows
	rulings []race.Ruling
	kept    []byte // the file as it is on disk: every byte acknowledged
	tried   []byte // the record of the last Append that failed, nil: none may stand behind kept
	file    handle // nil: not made yet, or given up after an error
	closed  bool
	copy    *copier // nil: no second folder
}

// NotSaved says that a ruling is not on disk, and why.
type NotSaved struct{ Err error }

func (e *NotSaved) Error() string { return "not saved: " + e.Err.Error() }

// Unwrap gives the reason.
func (e *NotSaved) Unwrap() error { return e.Err }

// Open opens a race folder's journal for writing. What a crash left half written at the end
// is saved beside it as rulings.jsonl.torn-N and cut off; Report tells. The error is ErrLocked
// when somebody else writes here, and a *Damaged when a line can't be read that was whole.
func Open(dir string) (*Journal, error) {
	lock, err := takeLock(filepath.Join(dir, lockFile))
	if err != nil {
		return nil, err
	}
	j, err := open(osDisk{}, filepath.Join(dir, File), lock)
	if err != nil {
		return nil, errors.Join(err, lock.release())
	}
	return j, nil
}

// open reads what is there and mends its end.
func open(d disk, path string, lock keeper) (*Journal, error) {
	j := &Journal{path: path, disk: d, lock: lock}
	b, err := d.read(path)
	if errors.Is(err, fs.ErrNotExist) {
		return j, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", File, err)
	}
	s := scan(b)
	if len(s.report.Damage) > 0 {
		first := s.report.Damage[0]
		return nil, &first
	}
	j.rulings, j.kept, j.told = s.rulings, bytes.Clone(b[:s.good]), s.report
	if j.file, err = d.open(path); err != nil {
		return nil, fmt.Errorf("%s can't be written to: %w", File, err)
	}
	if err := j.mend(b, s); err != nil {
		return nil, errors.Join(err, j.file.Close())
	}
	return j, nil
}

// mend saves a torn tail and cuts it off, and ends a whole last record that lacks its newline.
func (j *Journal) mend(b []byte, s scanned) error {
	if s.good < len(b) {
		name, err := saveTorn(j.disk, j.path, b[s.good:])
		if err != nil {
			return fmt.Errorf("the last line of %s is not whole and could not be put aside: %w", File, err)
		}
		j.told.TornTo = name
		if err := errors.Join(j.file.Truncate(int64(s.good)), j.file.Sync()); err != nil {
			return fmt.Errorf("the end of %s could not be cut off: %w", File, err)
		}
	}
	if len(j.kept) == 0 || j.kept[len(j.kept)-1] == '\n' {
		return nil
	}
	_, err := j.file.WriteAt([]byte{'\n'}, int64(len(j.kept)))
	if err = errors.Join(err, j.file.Sync()); err != nil {
		return fmt.Errorf("the last line of %s could not be ended: %w", File, err)
	}
	j.kept = append(j.kept, '\n')
	return nil
}

// Report tells what was found when the journal was opened.
func (j *Journal) Report() Report { return j.told }

// Rulings are all that are on disk, in order.
func (j *Journal) Rulings() []race.Ruling {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.rulings[:len(j.rulings):len(j.rulings)]
}

// Append gives the ruling its number and writes it. When it returns nil the ruling is on
// disk; otherwise the error is a *NotSaved, the file is as it was before, and the journal may
// be tried again. An fsync that failed is never repeated on the same handle: the pages it was
// about may be gone, and a second try would say that all is well.
func (j *Journal) Append(r *race.Ruling) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return &NotSaved{errors.New("the journal is closed")}
	}
	x := *r
	x.Seq = 1
	if n := len(j.rulings); n > 0 {
		x.Seq = j.rulings[n-1].Seq + 1
	}
	b, back, err := encode(&x)
	if err != nil {
		return &NotSaved{err}
	}
	if err := j.ready(); err != nil {
		return &NotSaved{err}
	}
	if err := j.put(b); err != nil {
		return &NotSaved{err}
	}
	j.kept, j.tried = append(j.kept, b...), nil
	j.rulings = append(j.rulings, back)
	*r = back
	if j.copy != nil {
		j.copy.offer(j.kept, back.Seq)
	}
	return nil
}

// put writes a record behind what is kept, and takes it off again when that fails.
func (j *Journal) put(b []byte) error {
	size := int64(len(j.kept))
	n, err := j.file.WriteAt(b, size)
	if err == nil && n < len(b) {
		err = errors.New("the line was written only in part")
	}
	if err == nil {
		err = j.file.Sync()
	}
	if err == nil && size == 0 { // the folder must know the file, too
		err = j.disk.syncDir(filepath.Dir(j.path))
	}
	if err == nil {
		return nil
	}
	err, j.tried = fmt.Errorf("%s: %w", File, err), b
	if cut := j.file.Truncate(size); cut != nil {
		err = fmt.Errorf("%w; a half-written line could not be taken off again: %w", err, cut)
	}
	return errors.Join(err, j.giveUp())
}

// giveUp leaves a handle that an error came from.
func (j *Journal) giveUp() error {
	f := j.file
	j.file = nil
	if err := f.Close(); err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	return nil
}

// ready makes sure that the file at the path is the one that is kept, and nobody else's.
func (j *Journal) ready() error {
	if err := j.lock.held(); err != nil {
		return err
	}
	if j.file != nil {
		same, err := j.disk.same(j.file, j.path, int64(len(j.kept)))
		if same && err == nil {
			return nil
		}
		if err := errors.Join(err, j.giveUp()); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", File, err)
		}
	}
	return j.reopen()
}

// reopen opens the file anew. It must begin with all that is kept, or be a part of it: then
// what is missing is written again. Behind it there may stand the record that was not saved
// and could not be taken off; anything else is somebody else's.
func (j *Journal) reopen() error {
	b, err := j.disk.read(j.path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", File, err)
	}
	rest, ours := bytes.CutPrefix(b, j.kept)
	if ours && !bytes.HasPrefix(j.tried, rest) || !ours && !bytes.HasPrefix(j.kept, b) {
		return fmt.Errorf("%s was changed by somebody else: open the race again", File)
	}
	f, err := j.disk.open(j.path)
	if err != nil {
		return fmt.Errorf("%s: %w", File, err)
	}
	j.file = f
	size := int64(len(j.kept))
	if ours && len(rest) > 0 {
		err = errors.Join(f.Truncate(size), f.Sync())
	}
	if !ours {
		_, err = f.WriteAt(j.kept[len(b):], int64(len(b)))
		err = errors.Join(err, f.Sync(), j.disk.syncDir(filepath.Dir(j.path)))
	}
	if err != nil {
		return errors.Join(fmt.Errorf("%s: %w", File, err), j.giveUp())
	}
	return nil
}

// Standing tells what is wrong with the file as it lies on disk: nil where it holds just what
// is kept. Nothing is changed; the next Append mends what can be.
func (j *Journal) Standing() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	b, err := j.disk.read(j.path)
	rest, ours := bytes.CutPrefix(b, j.kept)
	switch {
	case j.closed:
	case errors.Is(err, fs.ErrNotExist) && len(j.kept) == 0, err == nil && ours && bytes.HasPrefix(j.tried, rest):
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s is gone; the next ruling writes it again, whole", File)
	case err != nil:
		return fmt.Errorf("%s can't be read: %w", File, err)
	case bytes.HasPrefix(j.kept, b):
		return fmt.Errorf("%s was cut; the next ruling writes again what is missing", File)
	default:
		return fmt.Errorf("%s was changed by somebody else: nothing can be ruled until it is as it was, or the race is opened again", File)
	}
	return nil
}

// Close gives the journal and its lock back.
func (j *Journal) Close() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return nil
	}
	j.closed = true
	var err error
	if j.copy != nil {
		j.copy.close()
	}
	if j.file != nil {
		err = j.giveUp()
	}
	return errors.Join(err, j.lock.release())
}

// Read reads a race folder's rulings without the lock and changes nothing. A race without
// rulings has none. Report tells of a last line that isn't whole, which is left out, and of
// records that can't be read: Rulings are then all the others. The error is for what could not
// be read at all.
func Read(dir string) ([]race.Ruling, Report, error) {
	b, err := osDisk{}.read(filepath.Join(dir, File))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, Report{}, nil
	}
	if err != nil {
		return nil, Report{}, err
	}
	s := scan(b)
	return s.rulings, s.report, nil
}
