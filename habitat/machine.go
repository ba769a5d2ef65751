package habitat

import "golang.org/x/sys/unix"

// machineMemory returns the bytes of memory of this machine, or of a small
// one where the system does not tell.
func machineMemory() int64 {
	var info unix.Sysinfo_t
	if err := unix.Sysinfo(&info); err != nil {
		return 2 << 30
	}
	return int64(info.Totalram) * int64(info.Unit)
}

// freeDisk returns the bytes that may be written to the file system of dir.
func freeDisk(dir string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * s.Bsize, nil
}
