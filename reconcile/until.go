package reconcile

import (
	"sort"

	"twinmat/reconcile/race"
)

// Until is the input as far as the logs told by a moment of the race clock. The state that
// the whole input makes tells how each log's clock stands to it.
func Until(in Input, st *race.State, t race.Instant) Input {
	out := in
	out.Reads = make([]*race.Reads, len(in.Reads))
	for s, x := range in.Reads {
		if x == nil {
			continue
		}
		y := *x
		y.Kept = 0
		var tags []race.TagReads
		end := st.Own(s, t)
		for tag := range x.Tags.All() {
			n := sort.Search(len(tag.Reads), func(i int) bool { return tag.Reads[i].At > end })
			if n > 0 {
				tags = append(tags, race.TagReads{Tag: tag.Tag, Reads: tag.Reads[:n:n], Twice: tag.Twice})
				y.Kept += n
			}
		}
		y.Tags = race.TagsOf(tags...)
		y.Lines = y.Kept + y.Repeated + y.BadLines + y.Waiting
		out.Reads[s] = &y
	}
	return out
}
