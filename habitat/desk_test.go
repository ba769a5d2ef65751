package habitat

import (
	"errors"
	"path/filepath"
	"syscall"
	"testing"
)

// A pipe that nobody writes to would be waited for without end.
func TestPlanOfAPipe(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "plan.yaml")
	if err := syscall.Mkfifo(pipe, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{pipe, "/dev/null"} {
		var fault *Fault
		if err := (&desk{file: file}).read(); !errors.As(err, &fault) {
			t.Errorf("%s: %v", file, err)
		}
	}
}
