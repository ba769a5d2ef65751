package store

import (
	"crypto/rand"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"golang.org/x/sys/unix"
)

// Info is an entry as a list shows it.
type Info struct {
	Key   string    `json:"key"`
	Kind  string    `json:"kind"`
	Title string    `json:"title"`
	Bytes int64     `json:"bytes"`
	Made  time.Time `json:"made"`
	Used  time.Time `json:"used"`
}

var keyName = regexp.MustCompile(`^[0-9a-f]{32}$`)

// keys returns the keys of all entries, sound or not.
func (s *Store) keys() []string {
	var out []string
	parts, _ := os.ReadDir(filepath.Join(s.folder, doneFolder))
	for _, p := range parts {
		if p.IsDir() && keyName.MatchString(p.Name()) {
			out = append(out, p.Name())
		}
	}
	return out
}

// List returns the entries, the one used last first. One whose description
// cannot be read has no title.
func (s *Store) List() []Info {
	var out []Info
	for _, key := range s.keys() {
		i := Info{Key: key, Bytes: heldBy(s.done(key))}
		if m, err := readManifest(s.done(key)); err == nil {
			i.Kind, i.Title, i.Made = m.About.Kind, m.About.Title, m.Made
		}
		if f, err := os.Stat(filepath.Join(s.done(key), manifestName)); err == nil {
			i.Used = f.ModTime()
		}
		out = append(out, i)
	}
	slices.SortFunc(out, func(a, b Info) int {
		if c := b.Used.Compare(a.Used); c != 0 {
			return c
		}
		return compare(a.Key, b.Key)
	})
	return out
}

// heldBy returns how much of the disk the files of a folder take.
func heldBy(dir string) (n int64) {
	parts, _ := os.ReadDir(dir)
	for _, p := range parts {
		var st unix.Stat_t
		if unix.Lstat(filepath.Join(dir, p.Name()), &st) == nil {
			n += st.Blocks * 512
		}
	}
	return n
}

// Held returns how much the entries take, and what is being made.
func (s *Store) Held() (n int64) {
	for _, key := range s.keys() {
		n += heldBy(s.done(key))
	}
	parts, _ := os.ReadDir(filepath.Join(s.folder, makingFolder))
	for _, p := range parts {
		n += heldBy(filepath.Join(s.folder, makingFolder, p.Name()))
	}
	return n
}

// Most returns how much the entries may take together.
func (s *Store) Most() int64 {
	if s.most > 0 {
		return s.most
	}
	return (s.free() + s.Held()) / 2
}

// free returns what may be written to the disk of the store.
func (s *Store) free() int64 {
	var st unix.Statfs_t
	if unix.Statfs(s.folder, &st) != nil {
		return 0
	}
	return int64(st.Bavail) * st.Bsize
}

// makeRoom sees that so many bytes can be kept, of which some are written
// already, if need be by removing the entries that were not used for the
// longest time.
func (s *Store) makeRoom(need, written int64) error {
	most, list := s.Most(), s.List()
	rest := max(need-written, 0)
	short := func() bool { return s.Held()+rest > most || s.free() < rest }
	if need <= most {
		for ; short() && len(list) > 0; list = list[:len(list)-1] {
			s.remove(list[len(list)-1].Key)
		}
	}
	if need > most || short() {
		return &NoRoom{s.folder, need, most}
	}
	return nil
}

// Forget removes an entry, unless somebody has it open.
func (s *Store) Forget(a About) error { return s.remove(a.Key()) }

// ForgetLike removes all entries of a kind and title that nobody has open.
func (s *Store) ForgetLike(a About) {
	for _, key := range s.keys() {
		if m, err := readManifest(s.done(key)); err == nil && m.About.Kind == a.Kind && m.About.Title == a.Title {
			s.remove(key)
		}
	}
}

// remove removes an entry that nobody has open.
func (s *Store) remove(key string) error {
	hold, err := lock(s.done(key), unix.LOCK_EX)
	if err != nil {
		return ignoreMissing(err)
	}
	defer hold.Close()
	away := filepath.Join(s.folder, makingFolder, key+"."+rand.Text())
	if err := os.Rename(s.done(key), away); err != nil {
		return ignoreMissing(err)
	}
	return removeOwn(away)
}

// Clear removes every entry that nobody has open, and the remembered hashes.
// It returns how many bytes that freed and how many entries are in use. Files
// that no store writes are left where they lie, which is an error.
func (s *Store) Clear() (freed int64, inUse int, err error) {
	before := s.Held()
	for _, key := range s.keys() {
		if e := s.remove(key); errors.Is(e, errInUse) {
			inUse++
		} else {
			err = errors.Join(err, e)
		}
	}
	s.sweep()
	err = errors.Join(err, ignoreMissing(os.Remove(filepath.Join(s.folder, hashesFile))))
	for _, dir := range []string{doneFolder, makingFolder, "."} {
		os.Remove(filepath.Join(s.folder, dir)) // stays where something is in it
	}
	return before - s.Held(), inUse, err
}
