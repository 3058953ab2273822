package race

import (
	"fmt"
	"testing"
	"unsafe"
)

// A list edited shares with the one before the blocks in which nothing changed, and leaves
// it as it was.
func TestAnEditedListLeavesTheOneBefore(t *testing.T) {
	var l TagList
	for n := 1; n < 1000; n += 37 {
		before := make([]TagReads, 0, l.Len())
		for x := range l.All() {
			before = append(before, *x)
		}
		e := l.Edit()
		e.Grow(n)
		for i := l.Len(); i < n; i++ {
			e.At(i).Tag = fmt.Sprint(i)
		}
		changed := n * 31 / 7 % n
		e.At(changed).Twice++
		next := e.List()
		for i, x := range before {
			if l.At(i).Tag != x.Tag || l.At(i).Twice != x.Twice {
				t.Fatalf("%d tags: number %d of the list before became %v", n, i, *l.At(i))
			}
		}
		k := 0
		for x := range next.All() {
			if x.Tag != fmt.Sprint(k) || x != next.At(k) {
				t.Fatalf("%d tags: number %d is %v", n, k, *x)
			}
			k++
		}
		if k != n || next.Len() != n {
			t.Fatalf("%d and %d tags, want %d", k, next.Len(), n)
		}
		for b := range l.blocks {
			whole := len(l.blocks[b]) == len(next.blocks[b]) && b != changed/tagBlock
			if shared := &l.blocks[b][0] == &next.blocks[b][0]; shared != whole {
				t.Errorf("%d tags: block %d shared: %v", n, b, shared)
			}
		}
		l = next
	}
	one := TagsOf(make([]TagReads, 300)...)
	if one.Len() != 300 || len(one.blocks) != 3 {
		t.Errorf("%d tags in %d blocks", one.Len(), len(one.blocks))
	}
}

// A great race has ten million reads and a million bursts in memory.
func TestReadsAndBurstsAreSmall(t *testing.T) {
	if r, b := unsafe.Sizeof(Read{}), unsafe.Sizeof(Burst{}); r > 16 || b > 64 {
		t.Errorf("a read takes %d bytes, a burst %d", r, b)
	}
}
