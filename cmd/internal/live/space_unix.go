//go:build linux || darwin

package live

import "golang.org/x/sys/unix"

// freeSpace is what the disk of a folder has left, in bytes.
func freeSpace(dir string) int64 {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return unknownSpace
	}
	return int64(s.Bavail) * int64(s.Bsize)
}

// unwritable says why nothing can be written in a folder, nil: it can.
func unwritable(dir string) error { return unix.Access(dir, unix.W_OK) }
