package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// asProgram makes the test's binary the program itself, so that a script sees what a shell
// would: two streams and an exit status.
const asProgram = "TWINMAT_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		code := program(os.Args[1:])
		atEnd()
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// atEnd is what the test's binary, run as the program, does last.
var atEnd = func() {}

// asItself is the program's command: the test's binary, as a script runs it.
func asItself(args ...string) *exec.Cmd {
	c := exec.Command(os.Args[0], args...)
	c.Env = append(os.Environ(), asProgram+"=1", "TERM=xterm-256color", "LC_ALL=C.UTF-8")
	return c
}

// The commands as a shell sees them. A file of testdata/script is a script, then the files
// it starts from, each below "-- path --":
//
//	twinmat WORDS          runs it; the status must be 0
//	twinmat! N WORDS       the status must be N
//	stdout RE, stderr RE   what the last run wrote there matches; no-stdout, no-stderr: it doesn't
//	silent                 it wrote nothing to standard error
//	json                   its standard output is one JSON value
//	same PATH PATH         two files are the same bytes
//	write PATH TEXT        makes a file of Go-quoted text
//	change PATH OLD NEW    where it stands last in the file
//	cut PATH N             takes its last bytes away
//	copy PATH PATH, remove PATH, exists PATH, absent PATH
//
// Words in single quotes are one. No run may panic.
func TestScripts(t *testing.T) {
	paths, err := filepath.Glob("testdata/script/*.txt")
	if err != nil || len(paths) == 0 {
		t.Fatal("no scripts in testdata/script", err)
	}
	for _, p := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(p), ".txt"), func(t *testing.T) {
			t.Parallel()
			b, err := os.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			s := &script{t: t, dir: t.TempDir()}
			for n, line := range strings.Split(s.unpack(string(b)), "\n") {
				if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
					s.at = p + ":" + strconv.Itoa(n+1) + ": " + line
					s.do(words(line))
				}
			}
		})
	}
}

type script struct {
	t        *testing.T
	dir, at  string
	out, err bytes.Buffer
}

var fileMark = regexp.MustCompile(`(?m)^-- (\S+) --\n`)

func (s *script) unpack(text string) string {
	parts, names := fileMark.Split(text, -1), fileMark.FindAllStringSubmatch(text, -1)
	for i, n := range names {
		s.write(n[1], parts[i+1])
	}
	return parts[0]
}

func (s *script) write(name, text string) {
	path := filepath.Join(s.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		s.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		s.t.Fatal(err)
	}
}

func words(line string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`'([^']*)'|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

func (s *script) read(name string) []byte {
	s.t.Helper()
	b, err := os.ReadFile(filepath.Join(s.dir, filepath.FromSlash(name)))
	if err != nil {
		s.t.Fatalf("%s: %v", s.at, err)
	}
	return b
}

func (s *script) do(w []string) {
	s.t.Helper()
	switch w[0] {
	case "twinmat":
		s.run(0, w[1:])
	case "twinmat!":
		n, err := strconv.Atoi(w[1])
		if err != nil {
			s.t.Fatalf("%s: %v", s.at, err)
		}
		s.run(n, w[2:])
	case "stdout":
		s.match(&s.out, w[1], true)
	case "no-stdout":
		s.match(&s.out, w[1], false)
	case "stderr":
		s.match(&s.err, w[1], true)
	case "no-stderr":
		s.match(&s.err, w[1], false)
	case "silent":
		if s.err.Len() > 0 {
			s.t.Errorf("%s\n%s", s.at, &s.err)
		}
	case "json":
		if !json.Valid(s.out.Bytes()) {
			s.t.Errorf("%s\n%s", s.at, &s.out)
		}
	default:
		s.files(w)
	}
}

func (s *script) files(w []string) {
	s.t.Helper()
	switch w[0] {
	case "same":
		if !bytes.Equal(s.read(w[1]), s.read(w[2])) {
			s.t.Errorf("%s: they differ", s.at)
		}
	case "write":
		text, err := strconv.Unquote(w[2])
		if err != nil {
			s.t.Fatalf("%s: %v", s.at, err)
		}
		s.write(w[1], text)
	case "change":
		b := s.read(w[1])
		i := bytes.LastIndex(b, []byte(w[2]))
		if i < 0 {
			s.t.Fatalf("%s: %q is not there", s.at, w[2])
		}
		s.write(w[1], string(b[:i])+w[3]+string(b[i+len(w[2]):]))
	case "cut":
		n, err := strconv.Atoi(w[2])
		if err != nil {
			s.t.Fatalf("%s: %v", s.at, err)
		}
		b := s.read(w[1])
		s.write(w[1], string(b[:len(b)-n]))
	case "copy":
		s.write(w[2], string(s.read(w[1])))
	case "remove":
		if err := os.RemoveAll(filepath.Join(s.dir, filepath.FromSlash(w[1]))); err != nil {
			s.t.Fatalf("%s: %v", s.at, err)
		}
	case "exists", "absent":
		_, err := os.Stat(filepath.Join(s.dir, filepath.FromSlash(w[1])))
		if (err == nil) != (w[0] == "exists") {
			s.t.Errorf("%s: %v", s.at, err)
		}
	default:
		s.t.Fatalf("%s: no such word", s.at)
	}
}

func (s *script) run(want int, args []string) {
	s.t.Helper()
	exe, err := os.Executable()
	if err != nil {
		s.t.Fatal(err)
	}
	c := exec.Command(exe, args...)
	c.Dir = s.dir
	c.Env = append(os.Environ(), asProgram+"=1", "TZ=UTC")
	s.out.Reset()
	s.err.Reset()
	c.Stdout, c.Stderr = &s.out, &s.err
	if err := c.Run(); c.ProcessState == nil {
		s.t.Fatalf("%s: %v", s.at, err)
	}
	if got := c.ProcessState.ExitCode(); got != want {
		s.t.Errorf("%s\n  status %d\n%s%s", s.at, got, &s.out, &s.err)
	}
	if bytes.Contains(s.err.Bytes(), []byte("goroutine ")) {
		s.t.Errorf("%s: it panicked\n%s", s.at, &s.err)
	}
	for _, b := range [][]byte{s.out.Bytes(), s.err.Bytes()} {
		if bytes.ContainsRune(b, 0x1b) {
			s.t.Errorf("%s: an escape reached the terminal\n%q", s.at, b)
		}
	}
}

func (s *script) match(b *bytes.Buffer, re string, want bool) {
	s.t.Helper()
	if regexp.MustCompile("(?m)"+re).Match(b.Bytes()) != want {
		s.t.Errorf("%s\n%s", s.at, b)
	}
}
