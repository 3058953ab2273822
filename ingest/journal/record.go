package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"twinmat/reconcile/race"
)

// maxRecord bounds one line: a reason is a sentence, not a book.
const maxRecord = 64 << 10

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// stored is a ruling as a line holds it. The checksum stands last and is of the line as it
// would be without it.
type stored struct {
	race.Ruling
	Sum string `json:"sum,omitempty"`
}

const sumForm = `,"sum":"%08x"}`

var sumLength = len(fmt.Sprintf(sumForm, 0))

// encode writes a record with its newline, and gives the ruling as it will be read back.
func encode(r *race.Ruling) ([]byte, race.Ruling, error) {
	if !slices.Contains(race.RulingKinds, r.Rule) {
		return nil, *r, fmt.Errorf("%q is no kind of ruling", r.Rule)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(r); err != nil {
		return nil, *r, err
	}
	line := bytes.TrimSuffix(b.Bytes(), []byte("}\n"))
	line = fmt.Appendf(line, sumForm, checksum(line))
	if len(line) > maxRecord {
		return nil, *r, fmt.Errorf("the ruling takes %d bytes; want at most %d", len(line), maxRecord)
	}
	back, err := decode(line)
	if err != nil {
		return nil, *r, fmt.Errorf("the ruling would not be read back: %w", err)
	}
	return append(line, '\n'), back, nil
}

// foreign is a whole record that this version doesn't understand: a later one's.
type foreign struct{ why string }

func (f *foreign) Error() string { return f.why }

// decode reads one line without its newline. The error is a *foreign for a record that is
// whole and yet not ours to read.
func decode(line []byte) (race.Ruling, error) {
	if len(line) > maxRecord {
		return race.Ruling{}, fmt.Errorf("the line has %d bytes; want at most %d", len(line), maxRecord)
	}
	if !utf8.Valid(line) {
		return race.Ruling{}, errors.New("the line is not UTF-8 text")
	}
	strange := ""
	s, err := parse(line, true)
	if err != nil {
		lenient, again := parse(line, false)
		if again != nil {
			return race.Ruling{}, errors.New("the line is not a ruling: " + plain(again))
		}
		s, strange = lenient, plain(err)
	}
	if s.Sum != "" {
		body, ok := body(line)
		if !ok || fmt.Sprintf("%08x", checksum(body)) != s.Sum {
			return race.Ruling{}, errors.New("the line is not as it was written: its checksum doesn't fit")
		}
	}
	switch {
	case s.Seq < 1:
		return race.Ruling{}, errors.New("the line has no number (seq)")
	case !slices.Contains(race.RulingKinds, s.Rule):
		return s.Ruling, &foreign{fmt.Sprintf("there is no kind of ruling %s here; a later version may know it", strconv.QuoteToASCII(s.Rule))}
	case strange != "":
		return s.Ruling, &foreign{strange + "; a later version may know it"}
	}
	return s.Ruling, nil
}

// parse reads a line as JSON. Strict refuses fields that a ruling doesn't have.
func parse(line []byte, strict bool) (stored, error) {
	var s stored
	d := json.NewDecoder(bytes.NewReader(line))
	if strict {
		d.DisallowUnknownFields()
	}
	if err := d.Decode(&s); err != nil {
		return s, err
	}
	if _, err := d.Token(); err != io.EOF {
		return s, errors.New("something stands behind it")
	}
	return s, nil
}

// checksum is that of a record, given without the brace that closes it.
func checksum(body []byte) uint32 {
	return crc32.Update(crc32.Checksum(body, castagnoli), castagnoli, []byte{'}'})
}

// body is what a line's checksum is of, without the closing brace; false where the checksum
// doesn't stand at its end.
func body(line []byte) ([]byte, bool) {
	cut := len(line) - sumLength
	if cut < 0 || !bytes.HasPrefix(line[cut:], []byte(`,"sum":"`)) || !bytes.HasSuffix(line, []byte(`"}`)) {
		return nil, false
	}
	return line[:cut], true
}

func plain(err error) string { return strings.TrimPrefix(err.Error(), "json: ") }
