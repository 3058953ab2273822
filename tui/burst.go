package tui

import (
	"fmt"
	"strings"

	"twinmat/reconcile/race"
)

// burst draws the reads of a passing over time, main above backup, each on one scale: the
// stronger the read, the higher the mark; and where the kept time lies.
func (t *telling) burst(p *page, q *race.Passing) {
	p.line().put(head, "reads").gap(1).put(text, lineID(t.book, q.Line)).gap(1).
		put(muted, "the kept time stands under "+t.look.down)
	from, to := race.NoInstant, race.NoInstant
	for s, b := range q.Bursts {
		if b == nil || !q.Seen[s].Known() {
			continue
		}
		shift := t.shift(q, race.System(s))
		if f := b.First.Add(shift); !from.Known() || f < from {
			from = f
		}
		if l := b.Last().Add(shift); !to.Known() || l > to {
			to = l
		}
	}
	if !from.Known() {
		p.say(muted, "  no reads: the time is a ruling's")
		return
	}
	n := max(min(p.w-28, 100), 10) // after it stand a count and a strength
	width := max(to.Sub(from), 1)
	col := func(at race.Instant) int {
		return max(min(int(int64(at.Sub(from))*int64(n-1)/int64(width)), n-1), 0)
	}
	r := p.line()
	r.gap(8+col(q.At)).put(accent, t.look.down)
	for s, b := range q.Bursts {
		if b == nil || !q.Seen[s].Known() {
			continue
		}
		t.lane(p, q, race.System(s), b, n, col)
	}
	r = p.line()
	r.gap(8).put(muted, from.Time(t.book.Plan.Zone).Format("15:04:05.000")).
		to(8+max(n-7, 13)).put(muted, fmt.Sprintf("+%.2f s", width.Seconds()))
}

// shift brings a burst from its log's clock to the race clock: what the kept read moved by.
func (t *telling) shift(q *race.Passing, s race.System) race.Millis {
	b := q.Bursts[s]
	keep := race.KeepFirst
	if q.Line >= 0 && q.Line < len(t.book.Plan.Lines) {
		keep = t.book.Plan.Lines[q.Line].Keep
	}
	if d := q.Seen[s].Sub(b.Time(keep)); d.Known() {
		return d
	}
	return 0
}

// reads are a burst's.
func (t *telling) reads(b *race.Burst) []race.Read {
	if b.Source < 0 || int(b.Source) >= len(t.book.Inputs) {
		return nil
	}
	return b.Reads(t.book.Inputs[b.Source])
}

func (t *telling) lane(p *page, q *race.Passing, s race.System, b *race.Burst, n int, col func(race.Instant) int) {
	high := make([]int, n)
	low, peak := int16(32767), int16(-32767)
	reads := t.reads(b)
	for _, x := range reads {
		if x.RSSI != race.NoRSSI {
			low, peak = min(low, x.RSSI), max(peak, x.RSSI)
		}
	}
	shift, top := t.shift(q, s), len(t.look.spark)-1
	for _, x := range reads {
		h := top
		if x.RSSI != race.NoRSSI && peak > low {
			h = 1 + int(x.RSSI-low)*(top-1)/int(peak-low)
		}
		c := col(x.At.Add(shift))
		high[c] = max(high[c], h)
	}
	var out strings.Builder
	for _, h := range high {
		out.WriteString(t.look.spark[h])
	}
	r := p.line()
	r.cell(muted, s.String(), 7).gap(1).put(text, out.String()).gap(1).put(muted, race.Counted(int(b.Count), "read", "reads"))
	if peak > -32767 && peak != race.NoRSSI {
		r.put(muted, fmt.Sprintf(" %.0f dBm", float64(peak)/10))
	}
}
