package logs

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"strings"
	"unicode"
	"unicode/utf8"

	"twinmat/reconcile/race"
)

// maxTag is the longest tag, in bytes of its canonical form.
const maxTag = 64

// tagTable numbers tags. It is keyed by how a tag is spelled, so that a known spelling is
// found without making its canonical form; spellings of one tag share its number.
type tagTable struct {
	bibs  bool // tags are bibs as keyed
	latin bool // a tag that is no UTF-8 was seen

	slots  []uint32 // spelling number + 1, 0: free; a power of two long, at most half full
	spells []spelling
	text   []byte // of all spellings, one after the other

	names  []string // by tag number
	number map[string]uint32
}

type spelling struct {
	hash uint32
	len  uint32
	at   uint32 // in text
	tag  uint32
}

// find numbers the tag spelled b. Where b can't be a tag, why says so.
func (t *tagTable) find(b []byte) (tag uint32, why string) {
	h := hashBytes(b)
	if len(t.slots) > 0 {
		mask := uint32(len(t.slots) - 1)
		for i := h & mask; t.slots[i] != 0; i = (i + 1) & mask {
			s := &t.spells[t.slots[i]-1]
			if s.hash == h && int(s.len) == len(b) && string(t.text[s.at:s.at+s.len]) == string(b) {
				return s.tag, ""
			}
		}
	}
	return t.add(b, h)
}

// maxSpellings bounds the table's text: past it a new spelling is still looked up by its
// canonical form, only more slowly.
const maxSpellings = 1 << 22

func (t *tagTable) add(b []byte, h uint32) (uint32, string) {
	name, why := t.canonical(b)
	if why != "" {
		return 0, why
	}
	tag, ok := t.number[name]
	if !ok {
		if t.number == nil {
			t.number = make(map[string]uint32)
		}
		tag = uint32(len(t.names))
		t.names = append(t.names, name)
		t.number[name] = tag
	}
	if len(t.spells) >= maxSpellings {
		return tag, ""
	}
	if 2*(len(t.spells)+1) > len(t.slots) {
		t.grow()
	}
	t.spells = append(t.spells, spelling{hash: h, len: uint32(len(b)), at: uint32(len(t.text)), tag: tag})
	t.text = append(t.text, b...)
	t.place(h, uint32(len(t.spells)))
	return tag, ""
}

func (t *tagTable) grow() {
	t.slots = make([]uint32, max(64, 2*len(t.slots)))
	for i := range t.spells {
		t.place(t.spells[i].hash, uint32(i+1))
	}
}

func (t *tagTable) place(h, v uint32) {
	mask := uint32(len(t.slots) - 1)
	i := h & mask
	for t.slots[i] != 0 {
		i = (i + 1) & mask
	}
	t.slots[i] = v
}

// canonical is the tag as tags compare, or why it is none.
func (t *tagTable) canonical(b []byte) (name, why string) {
	if len(b) > 4*maxTag {
		return "", "is too long for a tag"
	}
	if !utf8.Valid(b) {
		t.latin = true
	}
	s := toUTF8(bytes.TrimSpace(b))
	for _, r := range s {
		if unicode.IsControl(r) || r == utf8.RuneError {
			return "", "holds characters that can't be printed"
		}
	}
	name = s
	if !t.bibs {
		name = race.CanonicalTag(s)
	}
	if len(name) > maxTag {
		return "", "is too long for a tag"
	}
	if strings.IndexFunc(name, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) < 0 {
		if name == "" {
			return "", "is missing"
		}
		return "", "holds neither letter nor digit"
	}
	return name, ""
}

// toUTF8 is b as text: as it is where it is UTF-8, else taken as Latin-1.
func toUTF8(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r)
}

// hashBytes mixes eight bytes at a time (after the multiply-and-fold of wyhash).
func hashBytes(b []byte) uint32 {
	const k = 0x9E3779B97F4A7C15
	h := uint64(len(b)) * k
	for len(b) >= 8 {
		h = mix(h^binary.LittleEndian.Uint64(b), k)
		b = b[8:]
	}
	if len(b) > 0 {
		var w uint64
		for i, c := range b {
			w |= uint64(c) << (8 * i)
		}
		h = mix(h^w, 0xD6E8FEB86659FD93)
	}
	return uint32(h ^ h>>32)
}

// antennas numbers antenna labels. The last number stands for all labels past it.
type antennas struct {
	labels []string // labels[0] is ""
	keys   []uint64 // of labels up to seven bytes: the bytes and the length; 0 for others
	last   uint8
}

const otherAntennas = "others"

func newAntennas() antennas { return antennas{labels: []string{""}, keys: []uint64{0}} }

// find numbers the label b.
func (a *antennas) find(b []byte) uint8 {
	if len(b) == 0 {
		return 0
	}
	if len(b) > 7 {
		return a.findLong(string(b), 0)
	}
	key := uint64(len(b)) << 56
	for i, c := range b {
		key |= uint64(c) << (8 * i)
	}
	if a.keys[a.last] == key {
		return a.last
	}
	for i, k := range a.keys {
		if k == key {
			a.last = uint8(i)
			return a.last
		}
	}
	return a.findLong(string(b), key)
}

func (a *antennas) findLong(label string, key uint64) uint8 {
	label = toUTF8([]byte(label))
	if len(label) > maxTag {
		label = strings.ToValidUTF8(label[:maxTag], "")
	}
	for i, s := range a.labels {
		if s == label {
			return uint8(i)
		}
	}
	if len(a.labels) == 255 {
		label, key = otherAntennas, 0
	}
	if len(a.labels) == 256 {
		return 255
	}
	a.labels = append(a.labels, label)
	a.keys = append(a.keys, key)
	return uint8(len(a.labels) - 1)
}

func mix(a, b uint64) uint64 {
	hi, lo := bits.Mul64(a, b)
	return hi ^ lo
}
