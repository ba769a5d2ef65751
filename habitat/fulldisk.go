package habitat

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// fullDisk is a disk that filled up while a run wrote to it; making room and
// trying again helps.
type fullDisk struct {
	volume string // where the file system begins
	folder string // what of ours lies on it
	free   int64  // by now, when some may have been given back
	cause  error
}

func (f *fullDisk) Error() string {
	first, _, _ := strings.Cut(f.cause.Error(), "\n") // one worker's will do
	return fmt.Sprintf("the disk of %s, which holds %s, is full: %s", f.volume, f.folder, first)
}

func (f *fullDisk) Unwrap() error { return f.cause }

func (f *fullDisk) Remedy() string {
	return "make room there (likelyground scratch --clear frees what is kept for later runs), or name another disk with --out or --scratch"
}

// nameDisk says of an error for want of room which of the folders' disks it
// is: the one with the least room.
func nameDisk(err error, folders ...string) error {
	if !errors.Is(err, syscall.ENOSPC) && !errors.Is(err, syscall.EDQUOT) {
		return err
	}
	var worst *fullDisk
	for _, dir := range folders {
		if dir == "" {
			continue
		}
		free, statErr := freeDisk(dir)
		if statErr == nil && (worst == nil || free < worst.free) {
			worst = &fullDisk{volumeOf(dir), dir, free, err}
		}
	}
	if worst == nil {
		return err
	}
	return worst
}

// volumeOf returns the topmost folder of the file system that holds a folder.
func volumeOf(dir string) string {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return dir
	}
	device := func(path string) (uint64, bool) {
		info, err := os.Stat(path)
		if err != nil {
			return 0, false
		}
		st, ok := info.Sys().(*syscall.Stat_t)
		return uint64(st.Dev), ok
	}
	mine, ok := device(dir)
	for ok && dir != "/" {
		above, known := device(filepath.Dir(dir))
		if !known || above != mine {
			break
		}
		dir = filepath.Dir(dir)
	}
	return dir
}
