package store

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path/filepath"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// Hash identifies the content of a file.
type Hash struct {
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Hashes remembers hashes of files by device, inode, size and times, so that a
// file that did not change needs no reading. It may be used by several
// goroutines at once.
type Hashes struct {
	file string

	mu    sync.Mutex
	known map[string]remembered
	fresh bool // something is to be saved
}

type remembered struct {
	Hash
	Used int64 // day, counted from 1970
}

// mostHashes bounds how many are remembered; forgetAfter, in days, for how
// long after the last use.
const (
	mostHashes  = 100_000
	forgetAfter = 90
)

// Hashes opens the memory of hashes; where it cannot be read it begins empty.
func (s *Store) Hashes() *Hashes {
	h := &Hashes{file: filepath.Join(s.folder, hashesFile), known: map[string]remembered{}}
	if readSealed(h.file, &h.known) != nil {
		h.known = map[string]remembered{}
	}
	return h
}

// Stamp is the state of a file, or of all files of a folder, as far as it can
// be told without reading.
type Stamp struct {
	text    string
	changed time.Time // the latest change of any of the files
	bare    bool      // some time of it has no fraction of a second
}

// StampOf returns the present state of a file or a folder.
func StampOf(path string) (Stamp, error) {
	var s Stamp
	sum, files := sha256.New(), 0
	err := filepath.WalkDir(path, func(at string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		var st unix.Stat_t
		if err := unix.Stat(at, &st); err != nil {
			return &fs.PathError{Op: "stat", Path: at, Err: err}
		}
		s.text = fmt.Sprintf("%d %d %d %d.%09d %d.%09d", st.Dev, st.Ino, st.Size, st.Mtim.Sec, st.Mtim.Nsec, st.Ctim.Sec, st.Ctim.Nsec)
		for _, t := range []unix.Timespec{st.Mtim, st.Ctim} {
			if at := time.Unix(t.Unix()); at.After(s.changed) {
				s.changed = at
			}
			s.bare = s.bare || t.Nsec == 0
		}
		if files++; at != path {
			files = 2
			fmt.Fprintf(sum, "%q %s\n", at[len(path):], s.text)
		}
		return nil
	})
	if files != 1 {
		s.text = hex.EncodeToString(sum.Sum(nil))
	}
	return s, err
}

// Same reports whether two states are the same.
func (s Stamp) Same(t Stamp) bool { return s.text == t.text }

// Settled reports whether a change after the moment would show in the state:
// the clocks of file systems go in steps, and what changes twice within one
// step looks the same.
func (s Stamp) Settled(at time.Time) bool {
	step := 50 * time.Millisecond
	if s.bare {
		step = 3 * time.Second
	}
	return at.Sub(s.changed) > step
}

// Known returns the hash of a file in a state.
func (h *Hashes) Known(s Stamp) (Hash, bool) {
	if h == nil {
		return Hash{}, false
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	r, ok := h.known[s.text]
	if today := day(); ok && r.Used != today {
		r.Used, h.fresh = today, true
		h.known[s.text] = r
	}
	return r.Hash, ok
}

// Remember notes the hash of a file. before is its state before the file was
// read, at the moment that is given; what might have changed since is not
// remembered.
func (h *Hashes) Remember(path string, before Stamp, at time.Time, hash Hash) {
	if h == nil || !before.Settled(at) {
		return
	}
	if now, err := StampOf(path); err != nil || !now.Same(before) {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.known[before.text] = remembered{hash, day()}
	h.fresh = true
}

func day() int64 { return time.Now().Unix() / 86400 }

// Save writes down what was remembered since the last time, beside what other
// processes wrote. Nil Hashes remember nothing.
func (h *Hashes) Save() error {
	if h == nil {
		return nil
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.fresh {
		return nil
	}
	others := map[string]remembered{}
	if readSealed(h.file, &others) == nil {
		for text, r := range others {
			if _, ok := h.known[text]; !ok {
				h.known[text] = r
			}
		}
	}
	h.forget()
	if err := writeSealed(h.file, h.known); err != nil {
		return fmt.Errorf("remember the hashes of files: %w", err)
	}
	h.fresh = false
	return nil
}

// forget drops what was not used for long.
func (h *Hashes) forget() {
	for oldest := day() - forgetAfter; ; oldest += forgetAfter / 2 {
		for text, r := range h.known {
			if r.Used < oldest {
				delete(h.known, text)
			}
		}
		if len(h.known) <= mostHashes || oldest > day() {
			return
		}
	}
}
