package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"path/filepath"
	"sort"
	"syscall"
)

// fakeDisk is a file system in memory that fails when told and loses what was not synced.
// An fsync that fails forgets what it should have written, and the next one on any handle
// reports success, as Linux does (Rebello et al., USENIX ATC 2020).
type fakeDisk struct {
	files map[string]*node
	calls int
	plan  fault
	trace []string
}

// fault is when and how calls fail.
type fault struct {
	at      int // the nth call; 0: never
	forever bool
	kind    faultKind
}

type faultKind uint8

const (
	killBefore faultKind = iota // the process ends before the call does anything
	killWithin                  // after half of a write, or all of anything else
	ioError
	diskFull
	shortWrite // an error after a part, as a full disk gives
	faultKinds
)

func (k faultKind) String() string {
	return [...]string{"kill before", "kill within", "EIO", "ENOSPC", "short write"}[k]
}

type killed struct{}

type node struct {
	data   []byte // as every process sees it
	stable []byte // as a power loss leaves it at least
	linked bool   // the folder's entry is synced
	ops    []op   // not yet synced
}

type op struct {
	at  int64
	b   []byte
	cut bool // truncate to at
}

func newDisk() *fakeDisk { return &fakeDisk{files: map[string]*node{}} }

// call counts a call and says how it fails.
func (d *fakeDisk) call(name string) (faultKind, bool) {
	d.calls++
	d.trace = append(d.trace, name)
	p := d.plan
	hit := p.at > 0 && (d.calls == p.at || p.forever && d.calls > p.at)
	if hit && p.kind == killBefore {
		panic(killed{})
	}
	return p.kind, hit
}

func (k faultKind) err() error {
	if k == ioError {
		return syscall.EIO
	}
	return syscall.ENOSPC
}

// simple is a call that either does all or nothing.
func (d *fakeDisk) simple(name string, do func()) error {
	kind, hit := d.call(name)
	if hit && kind != killWithin {
		return kind.err()
	}
	do()
	if hit {
		panic(killed{})
	}
	return nil
}

func (d *fakeDisk) open(path string) (handle, error) {
	err := d.simple("open", func() {
		if d.files[path] == nil {
			d.files[path] = &node{}
		}
	})
	if err != nil {
		return nil, err
	}
	return &fakeFile{d: d, n: d.files[path]}, nil
}

func (d *fakeDisk) read(path string) ([]byte, error) {
	if err := d.simple("read", func() {}); err != nil {
		return nil, err
	}
	n := d.files[path]
	if n == nil {
		return nil, fs.ErrNotExist
	}
	return bytes.Clone(n.data), nil
}

func (d *fakeDisk) create(path string, b []byte) error {
	if d.files[path] != nil {
		return fs.ErrExist
	}
	n := &node{}
	kind, hit := d.call("create")
	part := b
	if hit {
		part = b[:len(b)/2]
	}
	n.data = bytes.Clone(part)
	n.ops = append(n.ops, op{b: bytes.Clone(part)})
	d.files[path] = n
	switch {
	case hit && kind == killWithin:
		panic(killed{})
	case hit:
		return kind.err()
	}
	n.settle()
	return nil
}

func (d *fakeDisk) same(h handle, path string, size int64) (bool, error) {
	if err := d.simple("same", func() {}); err != nil {
		return false, err
	}
	n := d.files[path]
	if n == nil {
		return false, fs.ErrNotExist
	}
	return n == h.(*fakeFile).n && int64(len(n.data)) == size, nil
}

func (d *fakeDisk) syncDir(dir string) error {
	return d.simple("sync folder", func() {
		for path, n := range d.files {
			n.linked = n.linked || filepath.Dir(path) == dir
		}
	})
}

func (d *fakeDisk) mkdir(string) error { return d.simple("mkdir", func() {}) }

func (n *node) settle() {
	for _, o := range n.ops {
		n.stable = o.on(n.stable)
	}
	n.ops = nil
}

func (o op) on(b []byte) []byte {
	b = bytes.Clone(b)
	if o.cut {
		if int64(len(b)) > o.at {
			return b[:o.at]
		}
		return append(b, make([]byte, o.at-int64(len(b)))...)
	}
	if end := o.at + int64(len(o.b)); int64(len(b)) < end {
		b = append(b, make([]byte, end-int64(len(b)))...)
	}
	copy(b[o.at:], o.b)
	return b
}

type fakeFile struct {
	d      *fakeDisk
	n      *node
	closed bool
	failed bool // an fsync of this handle has failed
	again  bool // and was tried again: never allowed
}

func (f *fakeFile) do(o op) {
	f.n.data = o.on(f.n.data)
	f.n.ops = append(f.n.ops, o)
}

func (f *fakeFile) WriteAt(b []byte, at int64) (int, error) {
	if f.closed {
		return 0, fs.ErrClosed
	}
	kind, hit := f.d.call("write")
	if !hit {
		f.do(op{at: at, b: bytes.Clone(b)})
		return len(b), nil
	}
	if kind == ioError || kind == diskFull {
		return 0, kind.err()
	}
	half := b[:len(b)/2]
	f.do(op{at: at, b: bytes.Clone(half)})
	if kind == killWithin {
		panic(killed{})
	}
	return len(half), kind.err()
}

func (f *fakeFile) Truncate(size int64) error {
	if f.closed {
		return fs.ErrClosed
	}
	return f.d.simple("truncate", func() { f.do(op{at: size, cut: true}) })
}

func (f *fakeFile) Sync() error {
	if f.closed {
		return fs.ErrClosed
	}
	if f.failed {
		f.again = true
		panic("fsync tried again on a handle on which it failed")
	}
	kind, hit := f.d.call("sync")
	if hit && kind != killWithin {
		f.failed = true
		f.n.ops = nil // marked clean, and lost
		return kind.err()
	}
	f.n.settle()
	if hit {
		panic(killed{})
	}
	return nil
}

func (f *fakeFile) Close() error {
	if f.closed {
		return errors.New("closed twice")
	}
	err := f.d.simple("close", func() {})
	f.closed = true
	return err
}

const sector = 512

// powerLoss is what a power loss may leave: of each unsynced sector the old bytes, the new
// ones or anything; of a new file whose folder was not synced perhaps nothing.
func (d *fakeDisk) powerLoss(rng *rand.Rand) *fakeDisk {
	after := newDisk()
	paths := make([]string, 0, len(d.files))
	for p := range d.files {
		paths = append(paths, p)
	}
	sort.Strings(paths) // the same seed, the same loss
	for _, p := range paths {
		n := d.files[p]
		b := bytes.Clone(n.stable)
		for _, o := range n.ops {
			b = lose(rng, b, o)
		}
		if !n.linked && rng.IntN(2) == 0 {
			continue
		}
		after.files[p] = &node{data: b, stable: bytes.Clone(b), linked: true}
	}
	return after
}

func lose(rng *rand.Rand, b []byte, o op) []byte {
	if o.cut {
		if rng.IntN(2) == 0 {
			return o.on(b)
		}
		return b
	}
	for from := 0; from < len(o.b); {
		to := min(len(o.b), from+sector-int(o.at+int64(from))%sector)
		part := op{at: o.at + int64(from), b: o.b[from:to]}
		switch rng.IntN(3) {
		case 0:
			b = part.on(b)
		case 1:
			part.b = bytes.Clone(part.b)
			for i := range part.b {
				part.b[i] = byte(rng.IntN(256))
			}
			b = part.on(b)
		}
		from = to
	}
	return b
}

// survived is the disk as the next process finds it after a kill: nothing written is lost,
// and nothing fails any more.
func (d *fakeDisk) survived() *fakeDisk {
	after := newDisk()
	for p, n := range d.files {
		c := *n
		c.ops = append([]op(nil), n.ops...)
		after.files[p] = &c
	}
	return after
}

// noLock stands for a lock that is held.
type noLock struct{}

func (noLock) held() error    { return nil }
func (noLock) release() error { return nil }

func (f fault) String() string {
	s := fmt.Sprintf("call %d: %v", f.at, f.kind)
	if f.forever {
		s += " from then on"
	}
	return s
}
