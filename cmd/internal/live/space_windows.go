package live

import "golang.org/x/sys/windows"

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
