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

// placed is the day of each place.
type placed struct {
	slots []placedDay // a power of two long, at most two thirds full
	used  int
}

type placedDay struct {
	key place
	day int64 // wall milliseconds of the midnight before
}

// find is the slot of a place: its own, or the free one where it belongs. The slot holds
// until the next put.
func (t *placed) find(key place) *placedDay {
	if len(t.slots) == 0 {
		t.slots = make([]placedDay, 256)
	}
	mask := uint64(len(t.slots) - 1)
	h := mix(uint64(key.time)<<32|uint64(key.tag), 0x9E3779B97F4A7C15) ^ uint64(uint16(key.rssi))<<16 ^ uint64(key.antenna)<<8 ^ uint64(key.file)
	for i := mix(h, 0xD6E8FEB86659FD93) & mask; ; i = (i + 1) & mask {
		s := &t.slots[i]
		if s.key == key || s.key.time == 0 {
			return s
		}
	}
}

// put fills the free slot that find gave.
func (t *placed) put(slot *placedDay, key place, day int64) {
	*slot = placedDay{key, day}
	if t.used++; 3*t.used < 2*len(t.slots) {
		return
	}
	before := t.slots
	t.slots = make([]placedDay, 2*len(before))
	for _, s := range before {
		if s.key.time != 0 {
			*t.find(s.key) = s
		}
	}
}

// forget drops a file's places.
func (t *placed) forget(file uint8) {
	before := t.slots
	*t = placed{}
	for _, s := range before {
		if s.key.time != 0 && s.key.file != file {
			t.put(t.find(s.key), s.key, s.day)
		}
	}
}

// move moves a file's places by whole days.
func (t *placed) move(file uint8, by int64) {
	for i := range t.slots {
		if s := &t.slots[i]; s.key.time != 0 && s.key.file == file {
			s.day += by
		}
	}
}
