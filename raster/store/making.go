package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// Making is an entry that is being made. It is for one goroutine.
type Making struct {
	store *Store
	dir   string
	hold  *os.File
	files []fileSum
	count int
	need  int64 // of all files, as far as was told
}

// NoRoom says that the disk, or the part of it that a store may take, is too
// small for an entry.
type NoRoom struct {
	Folder     string
	Need, Most int64
}

func (n *NoRoom) Error() string {
	return fmt.Sprintf("%d bytes of finished work have no room in %s, where at most %d may be kept", n.Need, n.Folder, n.Most)
}

// Begin begins an entry. The Making must be closed.
func (s *Store) Begin() (*Making, error) {
	dir, hold, err := s.makingPlace()
	if err != nil {
		return nil, err
	}
	return &Making{store: s, dir: dir, hold: hold}, nil
}

// Reserve makes room for so many bytes more, if need be by removing what was
// not used for long; a [NoRoom] where there is none to be had.
func (m *Making) Reserve(bytes int64) error {
	err := m.store.makeRoom(m.need+bytes, heldBy(m.dir))
	if err == nil {
		m.need += bytes
	}
	return err
}

// Create makes a file of the entry, for reading and writing; the caller closes
// it.
func (m *Making) Create(name string) (*os.File, error) {
	f, err := os.OpenFile(m.Claim(name), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, fmt.Errorf("keep finished work: %w", err)
	}
	return f, nil
}

// Claim returns a path at which the caller makes a file of the entry.
func (m *Making) Claim(name string) string {
	m.Drop(name)
	place := fmt.Sprintf("%04d.data", m.count)
	m.count++
	m.files = append(m.files, fileSum{Name: name, Place: place})
	return filepath.Join(m.dir, place)
}

// Drop removes a file of the entry; what is not there is no error.
func (m *Making) Drop(name string) error {
	i := slices.IndexFunc(m.files, func(f fileSum) bool { return f.Name == name })
	if i < 0 {
		return nil
	}
	err := os.Remove(filepath.Join(m.dir, m.files[i].Place))
	m.files = slices.Delete(m.files, i, i+1)
	return ignoreMissing(err)
}

// Publish makes the entry what [Store.Find] finds under what it depends on,
// with a note of the maker's. The files must be whole. They stay where they are for those that
// have them open, and the returned entry keeps them from being removed.
// Where another process was faster, its entry is returned.
func (m *Making) Publish(ctx context.Context, a About, note []byte) (*Entry, error) {
	man := &manifest{About: a, Made: time.Now(), Note: note}
	for _, f := range m.files {
		var err error
		if f.Sums, f.Size, err = checksums(ctx, filepath.Join(m.dir, f.Place)); err != nil {
			return nil, fmt.Errorf("keep finished work: %w", err)
		}
		man.Files = append(man.Files, f)
	}
	if err := writeSealed(filepath.Join(m.dir, manifestName), man); err != nil {
		return nil, fmt.Errorf("keep finished work: %w", err)
	}
	to := m.store.done(a.Key())
	if err := os.Rename(m.dir, to); err != nil {
		if !errors.Is(err, fs.ErrExist) {
			return nil, fmt.Errorf("keep finished work: %w", err)
		}
		m.Close()
		return m.store.Find(ctx, a)
	}
	m.hold.Close()
	m.hold = nil
	return m.store.peek(a)
}

// Close throws away what was not published. Files of it that are open stay
// readable.
func (m *Making) Close() error {
	if m.hold == nil {
		return nil
	}
	err := errors.Join(removeOwn(m.dir), m.hold.Close())
	m.hold = nil
	return err
}
