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
// found without making its canonical form; spellings of one tag share its number, and the
// canonical form is among them. Several logs may use one table, one after the other. A
// million tags take some 50 bytes each.
type tagTable struct {
	bibs  bool // tags are bibs as keyed
	latin bool // a tag that is no UTF-8 was seen

	slots []spelling // a power of two long, at most half full
	used  int

	texts []string        // all spellings, each after a byte that tells its length; never moved
	last  strings.Builder // what the last of texts is made in
	names []textPlace     // by tag number: its canonical form

	// The tags about the antennas just now are few. They are looked for here first, by the
	// last bytes of their spelling.
	recent [recents]recentTag
	marks  bool // a spelling holds a delimiter, a quote or a space: see quick
}

const recents = 256

type recentTag struct {
	tag  uint32
	len  uint8 // 0: none
	text [27]byte
}

type spelling struct {
	hash uint32
	at   textPlace // 0: a free slot
	tag  uint32
}

// textPlace is where a spelling stands: which of texts, and from which byte.
type textPlace uint32

const (
	textLen = 1 << 16
	longest = 255 // bytes of a spelling
)

// at is the spelling that stands at a place.
func (t *tagTable) at(p textPlace) string {
	text := t.texts[p/textLen]
	from := int(p%textLen) + 1
	return text[from : from+int(text[from-1])]
}

// name is a tag's canonical form.
func (t *tagTable) name(tag uint32) string { return t.at(t.names[tag]) }

// find numbers the tag spelled b. Where b can't be a tag, why says so.
func (t *tagTable) find(b []byte) (tag uint32, why string) {
	if len(b) == 0 {
		return 0, whyMissing
	}
	if tag, ok := t.again(b); ok {
		return tag, ""
	}
	return t.add(b, hashBytes(b))
}

// again finds a spelling that has come before.
func (t *tagTable) again(b []byte) (tag uint32, ok bool) {
	if len(b) < 8 || len(b) > len(recentTag{}.text) {
		return t.known(b, hashBytes(b))
	}
	r := &t.recent[binary.LittleEndian.Uint64(b[len(b)-8:])*0x9E3779B97F4A7C15>>56]
	if int(r.len) == len(b) && string(r.text[:r.len]) == string(b) {
		return r.tag, true
	}
	if tag, ok = t.known(b, hashBytes(b)); ok {
		r.tag, r.len = tag, uint8(len(b))
		copy(r.text[:], b)
	}
	return tag, ok
}

func (t *tagTable) known(b []byte, h uint32) (tag uint32, ok bool) {
	if len(t.slots) == 0 {
		return 0, false
	}
	mask := uint32(len(t.slots) - 1)
	for i := h & mask; ; i = (i + 1) & mask {
		s := &t.slots[i]
		switch {
		case s.at == 0:
			return 0, false
		case s.hash == h && t.at(s.at) == string(b):
			return s.tag, true
		}
	}
}

// maxSpellings bounds the table: past it only canonical forms are added.
const maxSpellings = 1 << 22

func (t *tagTable) add(b []byte, h uint32) (uint32, string) {
	if t.plain(b) {
		return t.number(b, h), ""
	}
	name, why := t.canonical(b)
	if why != "" {
		return 0, why
	}
	form := []byte(name)
	formHash := hashBytes(form)
	tag, ok := t.known(form, formHash)
	if !ok {
		tag = t.number(form, formHash)
	}
	if t.used < maxSpellings && len(b) <= longest && string(form) != string(b) {
		t.spell(b, h, tag)
	}
	return tag, ""
}

// number takes a new tag in, by its canonical form.
func (t *tagTable) number(form []byte, h uint32) uint32 {
	tag := uint32(len(t.names))
	t.names = append(t.names, t.spell(form, h, tag))
	return tag
}

// plain tells whether b is canonical as it stands: upper-case letters and digits.
func (t *tagTable) plain(b []byte) bool {
	for _, c := range b {
		if !isDigit(c) && c-'A' > 'Z'-'A' {
			return false
		}
	}
	return len(b) <= maxTag
}

// spell takes a new spelling in.
func (t *tagTable) spell(b []byte, h, tag uint32) textPlace {
	t.used++
	t.marks = t.marks || bytes.ContainsAny(b, delimiters+"\" ")
	if 2*t.used > len(t.slots) {
		before := t.slots
		t.slots = make([]spelling, max(64, 2*len(before)))
		for _, s := range before {
			if s.at > 0 {
				t.place(s)
			}
		}
	}
	at := t.keep(b)
	t.place(spelling{h, at, tag})
	return at
}

// keep writes a spelling down. Many share one piece of memory, the first ones smaller ones.
func (t *tagTable) keep(b []byte) textPlace {
	if t.last.Cap()-t.last.Len() < len(b)+1 {
		t.last = strings.Builder{}
		t.last.Grow(min(max(1<<10, 8*len(t.names)), textLen))
		t.texts = append(t.texts, "")
		if len(t.texts) == 1 {
			t.last.WriteByte(0) // so that no spelling is at 0
		}
	}
	n := len(t.texts) - 1
	at := textPlace(n*textLen + t.last.Len())
	t.last.WriteByte(byte(len(b)))
	t.last.Write(b)
	t.texts[n] = t.last.String()
	return at
}

func (t *tagTable) place(s spelling) {
	mask := uint32(len(t.slots) - 1)
	i := s.hash & mask
	for t.slots[i].at > 0 {
		i = (i + 1) & mask
	}
	t.slots[i] = s
}

// Reasons that a cell is no tag.
const (
	whyMissing   = "is missing"
	whyLong      = "is too long for a tag"
	whyUnprinted = "holds characters that can't be printed"
	whyNoSign    = "holds neither letter nor digit"
)

// canonical is the tag as tags compare, or why it is none.
func (t *tagTable) canonical(b []byte) (name, why string) {
	if len(b) > 4*maxTag {
		return "", whyLong
	}
	if !utf8.Valid(b) {
		t.latin = true
	}
	s := toUTF8(bytes.TrimSpace(b))
	for _, r := range s {
		if unicode.IsControl(r) || r == utf8.RuneError {
			return "", whyUnprinted
		}
	}
	name = s
	if !t.bibs {
		name = race.CanonicalTag(s)
	}
	if len(name) > maxTag {
		return "", whyLong
	}
	if strings.IndexFunc(name, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) < 0 {
		if name == "" {
			return "", whyMissing
		}
		return "", whyNoSign
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
	single [256]uint8 // by label of one byte, 0: not come yet
}

const otherAntennas = "others"

func newAntennas() antennas { return antennas{labels: []string{""}, keys: []uint64{0}} }

// find numbers the label b.
func (a *antennas) find(b []byte) uint8 {
	if len(b) == 0 {
		return 0
	}
	if len(b) == 1 && a.single[b[0]] != 0 {
		return a.single[b[0]]
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
	n := a.findLong(string(b), key)
	if len(b) == 1 {
		a.single[b[0]] = n
	}
	return n
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
