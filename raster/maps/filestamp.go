package maps

import (
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// errChanged says that a file is no longer what it was when it was opened.
var errChanged = errors.New("the file was changed while it was being read")

// stamp is what tells one state of a file from another.
type stamp struct {
	path     string
	size     int64
	modified time.Time
}

// stampOf returns the present state of a file.
func stampOf(path string) (stamp, error) {
	if l := lender(path); l != nil {
		return lentStamp(path, l), l.Trouble()
	}
	info, err := os.Stat(path)
	if err != nil {
		return stamp{}, err
	}
	return stamp{path, info.Size(), info.ModTime()}, nil
}

// unchanged returns an error when the file is no longer as it was.
func (s stamp) unchanged() error {
	now, err := stampOf(s.path)
	if err != nil {
		return fmt.Errorf("%w: %w", errChanged, err)
	}
	if now.size != s.size || !now.modified.Equal(s.modified) {
		return fmt.Errorf("%s: %w; run again when it is at rest", s.path, errChanged)
	}
	return nil
}

// systemTrouble reads a file from end to end and returns the error when it is
// the system that cannot: bytes that come but make no sense are another case.
func systemTrouble(path string) error {
	if l := lender(path); l != nil {
		return l.Trouble()
	}
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if info.IsDir() {
		return nil
	}
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	_, err = io.Copy(io.Discard, file)
	return err
}
