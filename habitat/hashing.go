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

	"likelyground/raster/store"
)

// errHashingStopped is what hashing says when nobody wants the answer any more.
var errHashingStopped = errors.New("hashing was stopped")

// fileHash is what identifies a file's content.
type fileHash = store.Hash

// hashing reads the inputs through once, beside the computation.
type hashing struct {
	quit  chan struct{}
	group sync.WaitGroup
	done  map[string]chan struct{}

	mu    sync.Mutex
	found map[string]fileHash // of the files that are done
	err   error
}

// startHashing begins to hash files, in their order.
func startHashing(files []string, hash func(file string, quit <-chan struct{}) (fileHash, error)) *hashing {
	h := &hashing{quit: make(chan struct{}), done: map[string]chan struct{}{}, found: map[string]fileHash{}}
	for _, f := range files {
		h.done[f] = make(chan struct{})
	}
	h.group.Go(func() {
		for _, f := range files {
			if h.err != nil {
				h.put(f, fileHash{}, h.err)
				continue
			}
			sum, err := hash(f, h.quit)
			if err != nil {
				err = fmt.Errorf("read %s: %w", f, err)
			}
			h.put(f, sum, err)
		}
	})
	return h
}

func (h *hashing) put(file string, hash fileHash, err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.err = err
	if err == nil {
		h.found[file] = hash
	}
	close(h.done[file])
}

// of returns the hash of one of the files, as soon as it is there.
func (h *hashing) of(file string) (fileHash, error) {
	done, ok := h.done[file]
	if !ok {
		return fileHash{}, fmt.Errorf("%s is not being hashed", file)
	}
	<-done
	h.mu.Lock()
	defer h.mu.Unlock()
	if hash, ok := h.found[file]; ok {
		return hash, nil
	}
	return fileHash{}, h.err
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
	return fileHash{Bytes: total, SHA256: hex.EncodeToString(sum.Sum(nil))}, err
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
