package standing

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// StillOut lists who was seen and hasn't come in, who should have come longest ago first.
func StillOut(s *race.State) []Out {
	var out []Out
	for i := range s.Results {
		if isOut(s.Results[i]) {
			out = append(out, outOf(s, i))
		}
	}
	slices.SortFunc(out, func(a, b Out) int {
		return cmp.Or(cmp.Compare(dueOr(a), dueOr(b)), cmp.Compare(a.Result, b.Result))
	})
	return out
}

// isOut tells whether somebody was seen and hasn't come in.
func isOut(r *race.Result) bool {
	return r.Finish < 0 && (r.State == race.Running || r.State == race.Held)
}

func dueOr(o Out) race.Instant {
	if o.Expected.Known() {
		return o.Expected
	}
	return o.Last
}

func outOf(s *race.State, i int) Out {
	r := s.Results[i]
	at, when := r.Reached()
	o := Out{Result: i, Last: when, Expected: s.Expected[i]}
	if at >= 0 && at < len(r.Splits) {
		o.Place = r.Splits[at].ID
	}
	if at+1 < len(r.Splits) {
		o.Next = r.Splits[at+1].ID
	}
	if late := s.Now.Sub(o.Expected); late.Known() && late > 0 {
		o.Late = late
	}
	return o
}
