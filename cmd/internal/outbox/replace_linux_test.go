package outbox

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// A disk without room leaves every export as it was, and nothing half-written.
func TestExportOnAFullDisk(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("NOT TESTED: a full disk wants root, to mount a small one")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		t.Skip("NOT TESTED: no small disk can be mounted: ", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, 0) })
	names := []string{"clocks.csv", "times.csv"}
	old := map[string][]byte{"clocks.csv": bytes.Repeat([]byte("a"), 9000), "times.csv": bytes.Repeat([]byte("b"), 9000)}
	put := func(files map[string][]byte) error {
		contents := map[string]content{}
		for n, b := range files {
			contents[n] = bytesOf(b)
		}
		_, err := replace(dir, names, contents)
		return err
	}
	if err := put(old); err != nil {
		t.Fatal(err)
	}
	for n := 30_000; n < 40_000; n += 100 {
		err := put(map[string][]byte{"clocks.csv": make([]byte, 10_000), "times.csv": make([]byte, n+20_000)})
		if err == nil {
			t.Fatalf("%d bytes went into 64 KiB", n)
		}
		for _, name := range names {
			if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !bytes.Equal(b, old[name]) {
				t.Fatalf("%s changed: %v", name, err)
			}
		}
		if all, _ := os.ReadDir(dir); len(all) != 2 {
			t.Fatalf("left behind: %v", all)
		}
	}
	small := map[string][]byte{"clocks.csv": []byte("1"), "times.csv": []byte("2")}
	if err := put(small); err != nil {
		t.Errorf("there is room again: %v", err)
	}
}

// Who reads while a file is replaced sees one version or another, whole.
func TestReadersSeeWholeFiles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "times.csv")
	version := func(i int) []byte { return bytes.Repeat(fmt.Appendf(nil, "%06d\n", i), 5000) }
	if _, err := Replace(path, version(0)); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() {
		for i := range 300 {
			if _, err := Replace(path, version(i)); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for loops := 0; ; loops++ {
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			if loops < 1000 {
				t.Errorf("only %d reads", loops)
			}
			t.Logf("%d reads during 300 replacements", loops)
			return
		default:
		}
		b, err := os.ReadFile(path)
		if err != nil || len(b) != 35_000 || !bytes.Equal(b, bytes.Repeat(b[:7], 5000)) {
			t.Fatalf("read %d: %d bytes, %v", loops, len(b), err)
		}
	}
}
