package outbox

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"slices"
	"sync"
	"sync/atomic"

	"twinmat/reconcile/export"
	"twinmat/reconcile/race"
)

// compare lists what differs from the times.csv that stands there.
func (r *Report) compare(path string, times []byte) error {
	old, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		r.First = true
	case err != nil:
		return err
	case !bytes.Equal(old, times):
		if r.Changes, err = export.Compare(bytes.NewReader(old), bytes.NewReader(times)); err != nil {
			r.First, r.Changes = true, nil // what stood there was no export
		}
	}
	return nil
}

// splits writes splits.csv, and lists what differs from the one that stands there: both are gone
// through as it is written, for they are long.
func (r *Report) splits(w io.Writer, path string, st *race.State, o export.Options) error {
	if r.First {
		return export.Splits(w, st, o)
	}
	old, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return export.Splits(w, st, o)
	}
	if err != nil {
		return err
	}
	defer old.Close() // or nothing can take its place, on some systems
	changes, written, err := compareWritten(old, w, func(w io.Writer) error { return export.Splits(w, st, o) })
	if err == nil { // else what stood there was no export
		r.Changes = append(r.Changes, changes...)
		slices.SortStableFunc(r.Changes, func(a, b export.Change) int { return race.CompareBibs(a.Bib, b.Bib) })
	}
	return written
}

// compareWritten writes a splits.csv, and lists what differs from an old one; written tells of the
// writing, err of the comparing.
func compareWritten(old io.Reader, w io.Writer, write content) (changes []export.Change, written, err error) {
	now, made := io.Pipe()
	var broken atomic.Pointer[any]
	var comparing sync.WaitGroup
	defer comparing.Wait()
	defer made.Close() // when the writing breaks off as well
	comparing.Go(func() {
		defer now.Close() // the rest of what is written is nobody's to wait for
		keepPanic(&broken, func() { changes, err = export.CompareSplits(old, now) })
	})
	written = write(io.MultiWriter(w, regardless{made}))
	made.CloseWithError(written)
	comparing.Wait()
	raise(&broken)
	return changes, written, err
}

// regardless writes to whoever may have stopped to listen.
type regardless struct{ to io.Writer }

func (x regardless) Write(b []byte) (int, error) {
	_, _ = x.to.Write(b)
	return len(b), nil
}
