package follow

import (
	"bytes"
	"errors"
	"hash/maphash"
	"io"
	"os"
	"path/filepath"
	"time"

	"twinmat/ingest/logs"
)

// read takes in what is new in one file. whole: it is read once, as it is now.
func (l *Log) read(f *file, whole bool) (bool, error) {
	h, info, err := logs.Regular(filepath.Join(l.dir, filepath.FromSlash(f.path)), openFile)
	if err != nil {
		return false, err
	}
	defer h.Close()
	now, size := l.clock(), info.Size()
	if size != f.size || !info.ModTime().Equal(f.mod) {
		f.size, f.mod, f.moved, f.sure = size, info.ModTime(), now, false
	}
	deep := !f.sure && f.offset > 0 && (whole || now.Sub(f.moved) >= secondLook || now.Sub(f.whole) >= wholeLook)
	v, err := f.compare(h, size, deep)
	if err != nil {
		return false, err
	}
	if v == shorter && !whole {
		if f.doubt.IsZero() {
			f.doubt = now
		}
		if now.Sub(f.doubt) < secondLook {
			return false, nil
		}
	}
	f.doubt = time.Time{}
	if v != same {
		l.again(f)
	}
	if v != same || deep {
		f.whole, f.sure = now, now.Sub(f.moved) >= secondLook
	}
	more, err := l.take(f, h)
	return more || v != same, err
}

// verdict is what became of a file since it was read.
type verdict int

const (
	same    verdict = iota
	shorter         // cut, if what the share tells is so
	other           // another content
)

// compare tells whether what was read of a file still stands in it. deep: all of it is
// compared, not only its two ends.
func (f *file) compare(h *os.File, size int64, deep bool) (verdict, error) {
	if ok, err := f.stands(h, f.head[:min(int64(len(f.head)), size)], 0); !ok || err != nil {
		return other, err
	}
	if size < f.offset {
		return shorter, nil
	}
	if ok, err := f.stands(h, f.tail, f.offset-int64(len(f.tail))); !ok || err != nil {
		return other, err
	}
	if !deep {
		return same, nil
	}
	var sum maphash.Hash
	sum.SetSeed(f.sum.Seed())
	n, err := io.Copy(&sum, io.NewSectionReader(h, 0, f.offset))
	if err != nil {
		return other, err
	}
	if n < f.offset || sum.Sum64() != f.sum.Sum64() {
		return other, nil
	}
	return same, nil
}

func (f *file) stands(h *os.File, want []byte, at int64) (bool, error) {
	if f.got == nil {
		f.got = make([]byte, tailBytes)
	}
	got := f.got[:len(want)]
	n, err := h.ReadAt(got, at)
	if err != nil && !errors.Is(err, io.EOF) {
		return false, err
	}
	return bytes.Equal(got[:n], want), nil
}

// again begins a file anew: another content stands under its name.
func (l *Log) again(f *file) {
	l.log.Reset(f.index)
	f.restart()
	f.begun++
	f.kept.next()
}

func (f *file) restart() {
	f.offset, f.head, f.tail = 0, nil, nil
	f.sum.Reset()
}

// take reads from the place reached to the end.
func (l *Log) take(f *file, h *os.File) (bool, error) {
	buf := make([]byte, min(chunk, max(f.size-f.offset, 512)+1))
	more := false
	for {
		n, err := h.ReadAt(buf, f.offset)
		if n > 0 {
			if l.keep {
				f.kept.owe(buf[:n])
				// What can't be written now is tried again, and told, when all files were read.
				_ = l.pay(f)
			}
			l.log.Append(f.index, buf[:n])
			f.went(buf[:n])
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

// went notes what was read, for the next comparison.
func (f *file) went(b []byte) {
	f.offset += int64(len(b))
	f.sum.Write(b)
	if room := headBytes - len(f.head); room > 0 {
		f.head = append(f.head, b[:min(room, len(b))]...)
	}
	b = b[max(0, len(b)-tailBytes):]
	if over := len(f.tail) + len(b) - tailBytes; over > 0 {
		f.tail = append(f.tail[:0], f.tail[over:]...)
	}
	f.tail = append(f.tail, b...)
}

var openFile = logs.Open // replaced where a test has a writer that lets nobody else in
