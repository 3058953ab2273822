package invent

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestFeedGivesTheFilesByteForByteInOrderOfTime(t *testing.T) {
	everyKind(t, func(t *testing.T, kind string) {
		r, dir := written(t, Options{Kind: kind, Seed: 3, Athletes: small(kind)})
		got := map[string]*bytes.Buffer{}
		var last time.Time
		err := r.Feed(func(path string, line []byte, when time.Time) error {
			if when.Before(last) {
				return fmt.Errorf("%s: %v comes after %v", path, when, last)
			}
			last = when
			if got[path] == nil {
				got[path] = &bytes.Buffer{}
			}
			got[path].Write(line)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		files, err := filepath.Glob(filepath.Join(dir, "race", "logs", "*"))
		if err != nil || len(files) != len(got) {
			t.Fatalf("%d files, %d fed: %v", len(files), len(got), err)
		}
		for path, b := range got {
			want, err := os.ReadFile(filepath.Join(dir, "race", filepath.FromSlash(path)))
			if err != nil || !bytes.Equal(want, b.Bytes()) {
				t.Errorf("%s differs from what was fed: %v", path, err)
			}
		}
	})
}

func TestFeedStopsWhenToldTo(t *testing.T) {
	r, err := Make(Options{Seed: 1, Athletes: 50})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	stop := fmt.Errorf("enough")
	if got := r.Feed(func(string, []byte, time.Time) error {
		if n++; n == 100 {
			return stop
		}
		return nil
	}); !errors.Is(got, stop) || n != 100 {
		t.Errorf("%v after %d lines", got, n)
	}
}
