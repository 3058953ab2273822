package outbox

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

var tableNames = []string{"clocks.csv", "splits.csv", "times.csv"}

// TestMain is also the program that is killed: it replaces exports until then.
func TestMain(m *testing.M) {
	dir := os.Getenv("TWINMAT_EXPORT_UNTIL_KILLED")
	if dir == "" {
		os.Exit(m.Run())
	}
	fmt.Println("begun")
	for i := 0; ; i++ {
		files := map[string]content{}
		for _, n := range tableNames {
			files[n] = bytesOf(bytes.Repeat(fmt.Appendf(nil, "%06d\n", i%1e6), 3000))
		}
		if _, err := replace(dir, tableNames, files); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
}

// An export killed at any moment leaves whole files; what it had half-written is taken away
// by a later one.
func TestKilledExports(t *testing.T) {
	const kills = 150
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(1, 9))
	seen := map[string]bool{}
	for i := range kills {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "TWINMAT_EXPORT_UNTIL_KILLED="+dir)
		var says bytes.Buffer
		c.Stderr = &says
		begun, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := begun.Read(make([]byte, 1)); err != nil { // a slow machine takes longer to begin than it has to live
			t.Fatal(err, says.String())
		}
		time.Sleep(time.Duration(rng.IntN(40_000)) * time.Microsecond)
		c.Process.Kill()
		c.Wait()
		if says.Len() > 0 {
			t.Fatalf("kill %d: %s", i, says.String())
		}
		for _, n := range tableNames {
			b, err := os.ReadFile(filepath.Join(dir, n))
			if os.IsNotExist(err) {
				continue // killed before its first export was whole
			}
			if err != nil || len(b) != 21_000 || !bytes.Equal(b, bytes.Repeat(b[:7], 3000)) {
				t.Fatalf("kill %d, seed 1: %s has %d bytes, %v", i, n, len(b), err)
			}
			seen[string(b[:7])] = true
		}
	}
	if len(seen) < 2 {
		t.Errorf("only %d versions were seen", len(seen))
	}
	left, _ := filepath.Glob(filepath.Join(dir, unborn))
	old := time.Now().Add(-2 * leftOver)
	for _, p := range left {
		os.Chtimes(p, old, old)
	}
	if _, err := Replace(filepath.Join(dir, "times.csv"), []byte("x")); err != nil {
		t.Fatal(err)
	}
	if after, _ := filepath.Glob(filepath.Join(dir, unborn)); len(after) > 0 {
		t.Errorf("left behind: %v", after)
	}
	t.Logf("%d kills, %d versions seen whole, %d half-written files taken away", kills, len(seen), len(left))
}
