package course

import "twinmat/reconcile/race"

// A chip that is bent, or worn under wet clothes, is missed more often than others: by each system now
// and then, and so by both more often than the field is. How often each misses it while the other
// reads it tells how often it hides.
const (
	hidesEnough = 10   // passings that tell of one chip
	hidesWeight = 10   // passings that the belief is worth that it is as good as any:
	hidesSeldom = 0.01 // a well laid system sees 99 of a hundred (common practice)
)

// hides is the share of laps without end that both systems miss of one whose own passings tell that
// each misses many; 0: they tell nothing. What is heard too faintly for a crossing doesn't count.
func (s *search) hides(c *race.Course) float64 {
	line, ok := LapLine(c)
	if !ok || !c.Open || !s.f.learnt() || s.f.Both == 0 {
		return 0
	}
	var main, backup, both float64
	for j := range s.ps {
		q := &s.ps[j]
		if _, _, faint := s.f.faintAs(q); q.Line != line || q.Systems == 0 || q.Keyed || faint {
			continue
		}
		switch {
		case q.Systems > 1:
			both++
		case q.Best == race.Main:
			main++
		case q.Best == race.Backup:
			backup++
		}
	}
	if both < hidesEnough {
		return 0
	}
	missed := func(alone float64) float64 {
		return (alone + hidesWeight*hidesSeldom) / (alone + both + hidesWeight)
	}
	return float64(missed(main) * missed(backup))
}
