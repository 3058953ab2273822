package ruling

import (
	"slices"

	"twinmat/reconcile/race"
)

// own are the kinds of ruling that say something of a bib's passings, times or status, or of
// what was suspected, and change nothing for anybody else.
var own = []string{race.Accept, race.AdjustTime, race.SetStatus, race.SetTime, race.UseSystem, race.VoidPassing, race.Witness}

// Since is whom the rulings from the n-th on concern, in no promised order; false where one
// of them, or one that an undo takes back or gives back, is not those bibs' own matter. rs are
// those that were folded.
func (f *Effects) Since(rs []race.Ruling, n int) (bibs []string, ok bool) {
	if n == len(rs) {
		return nil, true
	}
	for i := n; i < len(rs); i++ {
		if i > 0 && rs[i].Seq <= rs[i-1].Seq || !isOwn(rs, i) {
			return nil, false
		}
	}
	for bib, seqs := range f.ByBib {
		if slices.Max(seqs) >= rs[n].Seq {
			bibs = append(bibs, bib)
		}
	}
	return bibs, true
}

// isOwn tells whether the i-th ruling, or what it takes back, is of such a kind.
func isOwn(rs []race.Ruling, i int) bool {
	for rs[i].Rule == race.Undo {
		seq := rs[i].UndoneSeq
		k := slices.IndexFunc(rs[:i], func(x race.Ruling) bool { return x.Seq == seq })
		if k < 0 {
			return true // it takes nothing back
		}
		i = k
	}
	return slices.Contains(own, rs[i].Rule)
}
