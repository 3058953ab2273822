package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/gofrs/flock"

	"twinmat/reconcile/race"
)

// ErrLocked is a journal that somebody else writes.
var ErrLocked = errors.New("another twinmat has this race open and rules on it")

// Journal is the race's rulings, open for writing. It holds the race's lock.
type Journal struct {
	disk   disk
	dir    string
	lock   *flock.Flock
	f      file
	good   int64 // length of what is acknowledged
	rs     []race.Ruling
	report Report
}

// Read reads the rulings of a race without lock and without writing anything. Damage is
// told in the report: the rulings before it are returned.
func Read(dir string) ([]race.Ruling, Report, error) {
	data, err := realDisk{}.ReadFile(journalPath(dir))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, Report{}, nil
	}
	if err != nil {
		return nil, Report{}, err
	}
	rs, _, report := parse(data)
	return rs, report, nil
}

// Open opens the rulings of a race to write them. The error is ErrLocked when another
// program has them, *Damaged when a record can't be read.
func Open(dir string) (*Journal, error) { return open(dir, realDisk{}) }

func open(dir string, d disk) (*Journal, error) {
	// The lock file stays when the lock is given back: deleting it would let two in.
	l := flock.New(filepath.Join(dir, "rulings.lock"), flock.SetPermissions(0o600))
	ok, err := l.TryLock()
	if err != nil {
		return nil, fmt.Errorf("the race's lock can't be had: %w", err)
	}
	if !ok {
		return nil, fmt.Errorf("%w%s", ErrLocked, holder(l.Path()))
	}
	j := &Journal{disk: d, dir: dir, lock: l}
	if err := j.load(); err != nil {
		l.Unlock()
		return nil, err
	}
	// Who holds it, for those who come second; what can't be written here harms nothing.
	os.WriteFile(l.Path(), []byte(strconv.Itoa(os.Getpid())+"\n"), 0o600)
	return j, nil
}

func holder(path string) string {
	b, err := os.ReadFile(path)
	if err != nil || len(b) == 0 || len(b) > 20 {
		return ""
	}
	return " (process " + strings.TrimSpace(string(b)) + ")"
}

// load reads what is there, and puts a torn tail aside.
func (j *Journal) load() error {
	path := journalPath(j.dir)
	data, err := j.disk.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	rs, good, report := parse(data)
	if report.Damage != nil {
		return report.Damage
	}
	j.rs, j.good, j.report = rs, int64(good), report
	if report.Torn > 0 {
		for n := 1; ; n++ {
			to := fmt.Sprintf("%s.torn-%d", path, n)
			err := j.disk.WriteNew(to, data[good:])
			if errors.Is(err, fs.ErrExist) {
				continue
			}
			if err != nil {
				return fmt.Errorf("the unfinished end of rulings.jsonl can't be put aside: %w", err)
			}
			j.report.TornTo = filepath.Base(to)
			break
		}
	}
	return j.reopen()
}

// reopen begins on a file handle of its own, cut to what is acknowledged.
func (j *Journal) reopen() error {
	f, err := j.disk.OpenAppend(journalPath(j.dir))
	if err != nil {
		return fmt.Errorf("rulings.jsonl can't be opened: %w", err)
	}
	if err := f.Truncate(j.good); err != nil {
		f.Close()
		return fmt.Errorf("rulings.jsonl can't be cut to its last whole record: %w", err)
	}
	if err := j.disk.SyncDir(j.dir); err != nil {
		f.Close()
		return fmt.Errorf("the race folder can't be synced: %w", err)
	}
	j.f = f
	return nil
}

// Append writes one ruling and gives it its seq. When it returns nil, the ruling is on
// disk. On an error nothing is acknowledged, and the file is cut back; the handle that
// failed is never synced again, since the kernel may have forgotten what it could not
// write.
func (j *Journal) Append(r *race.Ruling) error {
	if j.f == nil {
		if err := j.reopen(); err != nil {
			return fmt.Errorf("not saved: %w", err)
		}
	}
	x := *r
	x.Seq = 1
	if n := len(j.rs); n > 0 {
		x.Seq = j.rs[n-1].Seq + 1
	}
	line, err := encode(&x)
	if err != nil {
		return fmt.Errorf("not saved: %w", err)
	}
	n, err := j.f.Write(line)
	if err == nil && n < len(line) {
		err = fmt.Errorf("only %d of %d bytes were taken", n, len(line))
	}
	if err == nil {
		err = j.f.Sync()
	}
	if err != nil {
		j.f.Truncate(j.good) // if this fails too, the next reopen cuts it, or the next start
		j.f.Close()
		j.f = nil
		return fmt.Errorf("not saved: %w", err)
	}
	j.good += int64(len(line))
	j.rs = append(j.rs, x)
	*r = x
	return nil
}

// Rulings are all acknowledged ones, in order.
func (j *Journal) Rulings() []race.Ruling { return j.rs[:len(j.rs):len(j.rs)] }

// Report tells what was odd when the journal was opened.
func (j *Journal) Report() Report { return j.report }

// CopyTo writes the rulings to another folder, a stick or a share, whole or not at all as
// far as that folder can; the race's own file is not touched.
func (j *Journal) CopyTo(dir string) error {
	data, err := j.disk.ReadFile(journalPath(j.dir))
	if err != nil {
		return err
	}
	if int64(len(data)) > j.good {
		data = data[:j.good]
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	tmp := filepath.Join(dir, fmt.Sprintf(".rulings-%d.tmp", os.Getpid()))
	os.Remove(tmp)
	if err := j.disk.WriteNew(tmp, data); err != nil {
		os.Remove(tmp)
		return err
	}
	if err := os.Rename(tmp, journalPath(dir)); err != nil {
		os.Remove(tmp)
		return err
	}
	return j.disk.SyncDir(dir)
}

// Close gives the file and the lock back.
func (j *Journal) Close() error {
	var err error
	if j.f != nil {
		err = j.f.Close()
	}
	return errors.Join(err, j.lock.Unlock())
}
