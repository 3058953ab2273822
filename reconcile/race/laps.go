package race

import (
	"strconv"
	"strings"
)

// Lap is lap n of a course without end, as it follows from another lap of it.
func (c *Course) Lap(from *Split, n int) Split {
	s := *from
	s.Lap, s.ID, s.At = n, from.stem()+strconv.Itoa(n), from.At+float64(float64(n-from.Lap)*c.LapLength)
	return s
}

// LapOf is which lap of the same split an id names, 0 for none.
func (s *Split) LapOf(id string) int {
	number, ok := strings.CutPrefix(id, s.stem())
	n, err := strconv.Atoi(number)
	if !ok || err != nil || n < 1 || strconv.Itoa(n) != number {
		return 0
	}
	return n
}

// stem is what the ids of all laps of a split begin with.
func (s *Split) stem() string { return strings.TrimSuffix(s.ID, strconv.Itoa(s.Lap)) }
