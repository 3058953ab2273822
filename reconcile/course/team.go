package course

// Chips is how the chips of a bib go.
type Chips uint8

// A team's runners wear one each, or one body, or baton, has several: then some line reads them together.
const (
	OneChip Chips = iota
	ChipsTogether
	ChipsApart
)

// teams learns whether a bib's chips are each another runner's. Of one bib that isn't told: two may have
// mixed theirs up.
func (f *Field) teams(runs []Run) {
	apart := 0
	for i := range runs {
		switch runs[i].Chips {
		case ChipsTogether:
			apart--
		case ChipsApart:
			apart++
		}
	}
	f.Teams = apart > 0
}

// waits tells whether a passing is of somebody who waits by the line for another of their team.
func (s *search) waits(j int) bool { return s.ps[j].Waits && s.f.learnt() && s.f.Teams }

// sameChip tells whether two passings may be of one body: of two chips of a bib another may wear one.
func sameChip(a, b *Passing) bool { return a.Worn&b.Worn != 0 || a.Worn == 0 && b.Worn == 0 }
