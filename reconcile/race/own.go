package race

import "math"

// Laid is how far one log's clock is ahead of the race clock for a while.
type Laid struct {
	From, To Instant // race clock; NoInstant: open
	By       Millis
}

// Stretch is the one of a log's fitted stretches that tells most of a moment of the race clock,
// nil where none was fitted.
func (s *State) Stretch(source int, t Instant) *ClockStretch {
	var best *ClockStretch
	gap := Millis(math.MaxInt64)
	for i := range s.Clocks {
		c := &s.Clocks[i]
		if c.Source != source {
			continue
		}
		d := Millis(0) // one that no pair bounds holds for all of the race
		if c.From.Known() && c.To.Known() {
			d = max(c.From.Sub(t), t.Sub(c.To), 0)
		}
		if d < gap {
			best, gap = c, d
		}
	}
	return best
}

// Ahead is how many seconds a log's clock is ahead of its reference's at a moment of the race
// clock.
func (c *ClockStretch) Ahead(t Instant) float64 {
	if !c.From.Known() || !c.To.Known() {
		return c.Offset
	}
	middle := c.From.Add(c.To.Sub(c.From) / 2)
	return c.Offset + float64(c.DriftPPM*1e-6)*t.Sub(middle).Seconds()
}

// Own is what a log's own clock shows at a moment of the race clock: by the stretch that was
// fitted there, else as plan, rulings and votes say.
func (s *State) Own(source int, t Instant) Instant {
	if c := s.Stretch(source, t); c != nil {
		if ahead := c.Ahead(t); math.Abs(ahead) < 1e7 { // NaN and what no clock can be, isn't
			return t.Add(Millis(math.Round(ahead*1000)) + s.base(c.Line))
		}
	}
	if source < len(s.Laid) {
		for i := len(s.Laid[source]) - 1; i >= 0; i-- { // a later ruling wins
			if l := s.Laid[source][i]; (!l.From.Known() || t >= l.From) && (!l.To.Known() || t < l.To) {
				return t.Add(l.By)
			}
		}
	}
	return t
}

// base is how far the plan says a line's reference is ahead of the race clock.
func (s *State) base(line int) Millis {
	if r := s.Plan.Reference(line); r >= 0 {
		return s.Plan.Logs[r].Offset.Fixed
	}
	return 0
}

// Reference is the log that a line's others are aligned to: its first main, else its first;
// -1 without any.
func (p *Plan) Reference(line int) int {
	for _, s := range p.Lines[line].Logs {
		if p.Logs[s].System == Main {
			return s
		}
	}
	if len(p.Lines[line].Logs) > 0 {
		return p.Lines[line].Logs[0]
	}
	return -1
}
