package habitat

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"testing"
)

// TestFullDisk: one error, that names the volume; other errors stay as they
// are. The process's own file system /proc stands for another volume: it has
// no room at all.
func TestFullDisk(t *testing.T) {
	full := &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}
	both := errors.Join(fmt.Errorf("writing tile 1: %w", full), fmt.Errorf("writing tile 2: %w", full))
	err := nameDisk(both, t.TempDir(), "/proc/self", "")
	if want := "the disk of /proc, which holds /proc/self, is full: writing tile 1: write x: no space left on device"; err.Error() != want {
		t.Errorf("%q, not %q", err, want)
	}
	var remedy interface{ Remedy() string }
	if !errors.As(err, &remedy) || !errors.Is(err, syscall.ENOSPC) || !strings.Contains(remedy.Remedy(), "--scratch") {
		t.Errorf("no remedy, or no cause: %v", err)
	}
	if err := nameDisk(io.ErrUnexpectedEOF, "/proc/self"); err != io.ErrUnexpectedEOF {
		t.Errorf("another error became %v", err)
	}
}
