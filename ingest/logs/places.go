package logs

// place is a line of a time of day as its text tells it. Lines equal in all of it are one
// read: the second gets the day of the first and moves no chain.
type place struct {
	time    uint32 // milliseconds of the day + 1; 0 is no place
	tag     uint32
	rssi    int16
	antenna uint8
	file    uint8
}

func placeOf(f *file, p *parsed) place {
	return place{uint32(p.ms) + 1, p.tag, p.rssi, p.antenna, f.index}
}

// folded is the same for a time of the wall in an hour that comes twice.
type folded struct {
	wall    int64
	tag     uint32
	rssi    int16
	antenna uint8
	file    uint8
}

// placed is the day of each place. Lines come nearly in order of time: a table for each minute of the
// day stays near the processor while they do, and only a small one is made anew when it is full.
type placed struct {
	minutes []minute // by the minute of a place's time; nil: nothing was placed yet
}

const minutesOfDay = dayMS / minuteMS

// minute is a table of places.
type minute struct {
	slots []placedDay // a power of two long, at most two thirds full
	used  int
}

// placedDay is a place with its day, 16 bytes: there is one for every line.
type placedDay struct {
	key place
	day int32 // since 1970, on the wall
}

// of is the table of a place's minute.
func (t *placed) of(key place) *minute {
	if t.minutes == nil {
		t.minutes = make([]minute, minutesOfDay)
	}
	return &t.minutes[min(int64(key.time-1)/minuteMS, minutesOfDay-1)]
}

// day is the wall midnight of the day that a place was given.
func (t *placed) day(key place) (midnight int64, ok bool) {
	if t.minutes == nil {
		return 0, false
	}
	m := t.of(key)
	if len(m.slots) == 0 {
		return 0, false
	}
	s := m.find(key)
	return int64(s.day) * dayMS, s.key == key
}

// put gives a place that has none its day.
func (t *placed) put(key place, midnight int64) {
	t.of(key).put(placedDay{key, int32(midnight / dayMS)})
}

// find is the slot of a place: its own, or the free one where it belongs.
func (m *minute) find(key place) *placedDay {
	mask := uint64(len(m.slots) - 1)
	h := mix(uint64(key.time)<<32|uint64(key.tag), 0x9E3779B97F4A7C15) ^ uint64(uint16(key.rssi))<<16 ^ uint64(key.antenna)<<8 ^ uint64(key.file)
	for i := mix(h, 0xD6E8FEB86659FD93) & mask; ; i = (i + 1) & mask {
		s := &m.slots[i]
		if s.key == key || s.key.time == 0 {
			return s
		}
	}
}

func (m *minute) put(x placedDay) {
	if 3*(m.used+1) >= 2*len(m.slots) {
		before := m.slots
		m.slots = make([]placedDay, max(16, 2*len(before)))
		for _, s := range before {
			if s.key.time != 0 {
				*m.find(s.key) = s
			}
		}
	}
	*m.find(x.key) = x
	m.used++
}

// forget drops a file's places.
func (t *placed) forget(file uint8) {
	for i, m := range t.minutes {
		t.minutes[i] = minute{}
		for _, s := range m.slots {
			if s.key.time != 0 && s.key.file != file {
				t.minutes[i].put(s)
			}
		}
	}
}

// move moves a file's places by whole days.
func (t *placed) move(file uint8, by int64) {
	for _, m := range t.minutes {
		for i := range m.slots {
			if s := &m.slots[i]; s.key.time != 0 && s.key.file == file {
				s.day += int32(by / dayMS)
			}
		}
	}
}
