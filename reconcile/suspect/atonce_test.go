package suspect

import (
	"fmt"
	"testing"

	"twinmat/reconcile/race"
)

// shared is what several kinds may read of what the fields teach.
func (f *field) shared() (s string) {
	for c := range f.courses {
		x := &f.courses[c]
		s += fmt.Sprint(x.off, x.offStale, x.tails, x.levelled, x.mid, x.sd, x.effect, x.scale, x.usual, x.taught, " ")
	}
	return s + fmt.Sprint(f.level, f.reach, f.word, f.there.lists, f.groups)
}

// A kind that reads at once with others and writes what those read too would have them find now this
// and now that.
func TestKindsAtOnceWriteNothingThatOthersRead(t *testing.T) {
	m := makeRace(t, 60)
	m.in.Memory = &Memory{}
	for _, changed := range [][]int{nil, {7}} {
		for _, i := range changed {
			m.shift(m.st.Results[i].Bib, 2, 4*race.Millis(60_000))
			m.in.Changed, m.in.Same, m.in.Grown = changed, true, true
		}
		s := Begin(m.in)
		s.f.leaveWord()
		was := s.f.shared()
		for n, find := range atOnce {
			if find(s.f); s.f.shared() != was {
				t.Fatalf("with %v changed, number %d of those at once writes what others read", changed, n)
			}
		}
		s.f.searched = true
		s.f.turn++
	}
}
