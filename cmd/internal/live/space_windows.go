package live

import (
	"os"

	"golang.org/x/sys/windows"
)

// freeSpace is what the disk of a folder has left, in bytes.
func freeSpace(dir string) int64 {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return unknownSpace
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return unknownSpace
	}
	return int64(free)
}

// unwritable says why nothing can be written in a folder, as far as can be told without trying.
func unwritable(dir string) error {
	_, err := os.Stat(dir)
	return err
}
