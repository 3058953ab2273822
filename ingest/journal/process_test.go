package journal

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// rulesFor makes this test program rule in a folder instead, and print what was acknowledged,
// until it is killed.
const rulesFor = "TWINMAT_TEST_RULES_FOR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(rulesFor); dir != "" {
		ruleUntilKilled(dir)
		return
	}
	os.Exit(m.Run())
}

func ruleUntilKilled(dir string) {
	j, err := Open(dir)
	if err != nil {
		fmt.Println("not opened:", err)
		os.Exit(1)
	}
	fmt.Println("open")
	for {
		r := made(len(j.Rulings()) + 1)
		r.Why += strings.Repeat("x", 600) // more than a sector
		if err := j.Append(&r); err != nil {
			fmt.Println("not saved:", err)
			os.Exit(1)
		}
		fmt.Println(r.Seq)
	}
}

func child(t *testing.T, dir string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), rulesFor+"="+dir)
	out, err := c.StdoutPipe()
	if err = errors.Join(err, c.Start()); err != nil {
		t.Fatal(err)
	}
	s := bufio.NewScanner(out)
	if !s.Scan() || s.Text() != "open" {
		t.Fatalf("the writer says %q", s.Text())
	}
	return c, s
}

// A writer is killed at a random moment, again and again on the same race. Whatever it said
// was saved is there, at most one more is, and the lock is free at once.
func TestKilledWriters(t *testing.T) {
	kills := 40
	if n, err := strconv.Atoi(os.Getenv("TWINMAT_KILLS")); err == nil {
		kills = n
	} else if testing.Short() {
		kills = 8
	}
	seed := uint64(27)
	rng := rand.New(rand.NewPCG(seed, seed))
	dir, acked, more, torn := t.TempDir(), 0, 0, 0
	for k := range kills {
		if k%10 == 0 {
			dir, acked = t.TempDir(), 0 // it grows without end otherwise
		}
		c, out := child(t, dir)
		wait := time.Duration(rng.IntN(20_000)) * time.Microsecond
		time.AfterFunc(wait, func() {
			if err := c.Process.Kill(); err != nil {
				t.Error(err)
			}
		})
		for out.Scan() {
			n, err := strconv.Atoi(out.Text())
			if err != nil {
				t.Fatal(out.Text())
			}
			acked = n
		}
		if err := c.Wait(); err == nil {
			t.Fatal("the writer ended by itself")
		}
		j, err := Open(dir)
		if err != nil {
			t.Fatalf("seed %d, kill %d: %v", seed, k, err)
		}
		got := j.Rulings()
		if len(got) < acked || len(got) > acked+1 {
			t.Fatalf("seed %d, kill %d: acknowledged %d, there %d", seed, k, acked, len(got))
		}
		for i, r := range got {
			if r.Seq != i+1 || r.Bib != fmt.Sprint(i+1) {
				t.Fatalf("seed %d, kill %d: ruling %d is %+v", seed, k, i+1, r)
			}
		}
		more += len(got) - acked
		if j.Report().Torn > 0 {
			torn++
		}
		acked = len(got)
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills (seed %d): none lost, %d unacknowledged ones whole, %d torn tails", kills, seed, more, torn)
}

func TestASecondProcessIsKeptOutAndToldByWhom(t *testing.T) {
	dir := t.TempDir()
	c, _ := child(t, dir)
	began := time.Now()
	_, err := Open(dir)
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), fmt.Sprintf("process %d on ", c.Process.Pid)) {
		t.Errorf("a second writer got %v", err)
	}
	t.Logf("told after %v: %v", time.Since(began), err)
	if _, _, err := Read(dir); err != nil {
		t.Errorf("a reader is kept out: %v", err)
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); err == nil {
		t.Fatal("the writer ended by itself")
	}
	j, err := Open(dir)
	if err != nil {
		t.Fatalf("the lock of a killed writer stays: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(filepath.Join(dir, lockFile)); err != nil || !strings.Contains(string(b), fmt.Sprint(os.Getpid())) {
		t.Fatalf("the lock is signed %q, %v", b, err)
	}
}
