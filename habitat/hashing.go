package habitat

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// errHashingStopped is what hashing says when nobody wants the answer any more.
var errHashingStopped = errors.New("hashing was stopped")

// fileHash is what identifies a file's content.
type fileHash struct {
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// hashing reads the inputs through once, beside the computation.
type hashing struct {
	quit  chan struct{}
	group sync.WaitGroup
	found map[string]fileHash
	err   error
}

func startHashing(files []string) *hashing {
	h := &hashing{quit: make(chan struct{}), found: map[string]fileHash{}}
	h.group.Go(func() {
		for _, f := range files {
			sum, err := hashFile(f, h.quit)
			if err != nil {
				h.err = fmt.Errorf("read %s: %w", f, err)
				return
			}
			h.found[f] = sum
		}
	})
	return h
}

// wait returns the hashes by file.
func (h *hashing) wait() (map[string]fileHash, error) {
	h.group.Wait()
	return h.found, h.err
}

// stop ends the work; calling it after wait, or twice, does no harm.
func (h *hashing) stop() {
	select {
	case <-h.quit:
	default:
		close(h.quit)
	}
	h.group.Wait()
}

// hashFile hashes a file, or the files of a folder that is one map.
func hashFile(name string, quit <-chan struct{}) (fileHash, error) {
	sum := sha256.New()
	var total int64
	err := filepath.WalkDir(name, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if path != name {
			fmt.Fprintf(sum, "%s\n", filepath.ToSlash(path[len(name):]))
		}
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		n, err := io.Copy(sum, stoppable{f, quit})
		total += n
		return err
	})
	return fileHash{total, hex.EncodeToString(sum.Sum(nil))}, err
}

// stoppable is a reader that ends when quit is closed.
type stoppable struct {
	io.Reader
	quit <-chan struct{}
}

func (s stoppable) Read(p []byte) (int, error) {
	select {
	case <-s.quit:
		return 0, errHashingStopped
	default:
		return s.Reader.Read(p)
	}
}
