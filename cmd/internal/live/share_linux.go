package live

import "golang.org/x/sys/unix"

// shareOf names the kind of network share that a folder lies on, "" for a disk of one's own
// or what isn't known. The numbers are those of linux/magic.h.
func shareOf(dir string) string {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return ""
	}
	return shares[uint32(s.Type)]
}

var shares = map[uint32]string{
	unix.NFS_SUPER_MAGIC:  "NFS",
	unix.SMB_SUPER_MAGIC:  "SMB",
	unix.CIFS_SUPER_MAGIC: "SMB",
	unix.SMB2_SUPER_MAGIC: "SMB",
	unix.AFS_SUPER_MAGIC:  "AFS",
	unix.CODA_SUPER_MAGIC: "Coda",
	unix.V9FS_MAGIC:       "9P",
}
