package outbox

import (
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
)

type breaks struct{}

func (breaks) Read([]byte) (int, error) { panic("reading broke") }

// When the writing or the comparing breaks off, whoever called gets that panic, and nobody is left
// who waits for the other.
func TestWhatBreaksWhileItIsComparedIsTheCallersPanic(t *testing.T) {
	const row = "bib,split,at\n1,10k,10:00:00.000\n"
	whole := func(w io.Writer) error {
		for range 3 {
			if _, err := io.WriteString(w, row); err != nil {
				return err
			}
		}
		return nil
	}
	for _, x := range []struct {
		old   io.Reader
		write content
		want  any
	}{
		{breaks{}, whole, "reading broke"},
		{strings.NewReader(row), func(w io.Writer) error { io.WriteString(w, row); panic("writing broke") }, "writing broke"},
		{strings.NewReader("no export"), whole, nil},
		{strings.NewReader(row), func(w io.Writer) error { return errors.New("no room") }, nil},
	} {
		synctest.Test(t, func(t *testing.T) { // fails where somebody is left waiting
			defer func() {
				if got := recover(); got != x.want {
					t.Errorf("%v, want %v", got, x.want)
				}
			}()
			compareWritten(x.old, io.Discard, x.write)
		})
	}
}
