package store

import (
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"
)

// Names within an entry's folder.
const (
	manifestName = "entry"
	partEnding   = ".part"
)

var dataName = regexp.MustCompile(`^[0-9]{4}\.data$`)

// ours reports whether a store writes files of a name.
func ours(name string) bool {
	return name == manifestName || dataName.MatchString(name) || filepath.Ext(name) == partEnding
}

// manifest is what is known of an entry without its files.
type manifest struct {
	About About
	Made  time.Time
	Note  []byte // of whoever made it
	Files []fileSum
}

// fileSum is a file of an entry.
type fileSum struct {
	Name  string // by which it is asked for
	Place string // within the entry's folder
	Size  int64
	Sums  []uint32 // CRC-32C of each piece
}

// piece is how many bytes have a checksum of their own.
const piece = 16 << 20

func (m *manifest) size() (n int64) {
	for _, f := range m.Files {
		n += f.Size
	}
	return n
}

func readManifest(dir string) (*manifest, error) {
	m := &manifest{}
	err := readSealed(filepath.Join(dir, manifestName), m)
	for _, f := range m.Files {
		if !dataName.MatchString(f.Place) {
			return nil, fmt.Errorf("%s: %w", dir, errBroken)
		}
	}
	return m, err
}

// ErrAbsent is returned by [Store.Find] for what is not kept.
var ErrAbsent = errors.New("it is not kept")

// Damage is an entry that was kept but is not what was written any more. It
// has been removed.
type Damage struct {
	Title string
	Cause error
}

func (d *Damage) Error() string {
	return fmt.Sprintf("what was kept of %s is damaged: %v", d.Title, d.Cause)
}

// Unwrap returns the cause.
func (d *Damage) Unwrap() error { return d.Cause }

// Entry is finished work, open for reading. While it is open nobody removes
// it.
type Entry struct {
	dir  string
	hold *os.File
	m    *manifest
}

// Find opens the entry of what is wanted, having held all its files against
// their checksums. It returns [ErrAbsent], a [Damage], the context's error, or
// one of the file system.
func (s *Store) Find(ctx context.Context, a About) (*Entry, error) {
	e, err := s.peek(a)
	if err != nil {
		return nil, err
	}
	if err := e.verify(ctx); err != nil {
		e.Close()
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		s.remove(a.Key())
		return nil, &Damage{a.Title, err}
	}
	now := time.Now()
	os.Chtimes(filepath.Join(e.dir, manifestName), now, now) // only the order of pruning hangs on it
	return e, nil
}

// Has reports whether an entry is kept and, at a glance, sound: files are
// there at their sizes.
func (s *Store) Has(a About) bool {
	e, err := s.peek(a)
	if err != nil {
		return false
	}
	defer e.Close()
	for _, f := range e.m.Files {
		if info, err := os.Stat(filepath.Join(e.dir, f.Place)); err != nil || info.Size() != f.Size {
			return false
		}
	}
	return true
}

// peek opens an entry without a look at its files.
func (s *Store) peek(a About) (*Entry, error) {
	dir := s.done(a.Key())
	hold, err := lock(dir, unix.LOCK_SH)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, errInUse) { // being removed
		return nil, ErrAbsent
	}
	if err != nil {
		return nil, err
	}
	m, err := readManifest(dir)
	if err != nil {
		hold.Close()
		s.remove(a.Key())
		return nil, &Damage{a.Title, err}
	}
	return &Entry{dir, hold, m}, nil
}

// Note returns what its maker wrote beside the files.
func (e *Entry) Note() []byte { return e.m.Note }

// Size returns the size of all files together.
func (e *Entry) Size() int64 { return e.m.size() }

// Names returns the names of the files.
func (e *Entry) Names() []string {
	var out []string
	for _, f := range e.m.Files {
		out = append(out, f.Name)
	}
	return out
}

// Path returns where a file of the entry lies; "" for one it does not have.
func (e *Entry) Path(name string) string {
	for _, f := range e.m.Files {
		if f.Name == name {
			return filepath.Join(e.dir, f.Place)
		}
	}
	return ""
}

// Close lets go of the entry. Files of it that are open stay readable.
func (e *Entry) Close() error { return e.hold.Close() }

// verify holds the files against their checksums.
func (e *Entry) verify(ctx context.Context) error {
	var errs []error
	for _, f := range e.m.Files {
		sums, size, err := checksums(ctx, filepath.Join(e.dir, f.Place))
		switch {
		case err != nil:
			errs = append(errs, err)
		case size != f.Size:
			errs = append(errs, fmt.Errorf("%s has %d bytes, not %d", f.Name, size, f.Size))
		case !equal(sums, f.Sums):
			errs = append(errs, fmt.Errorf("%s: %w", f.Name, errBroken))
		}
	}
	return errors.Join(errs...)
}

func equal(a, b []uint32) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// checksums reads a file through, several pieces at once.
func checksums(ctx context.Context, path string) (sums []uint32, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, 0, err
	}
	size = info.Size()
	sums = make([]uint32, (size+piece-1)/piece)
	var next atomic.Int64
	var group sync.WaitGroup
	errs := make([]error, min(runtime.GOMAXPROCS(0), len(sums)))
	for w := range errs {
		group.Go(func() {
			buf := make([]byte, 256<<10)
			for i := next.Add(1) - 1; i < int64(len(sums)) && errs[w] == nil; i = next.Add(1) - 1 {
				if errs[w] = ctx.Err(); errs[w] == nil {
					sums[i], errs[w] = checksum(io.NewSectionReader(f, i*piece, min(piece, size-i*piece)), buf)
				}
			}
		})
	}
	group.Wait()
	return sums, size, errors.Join(errs...)
}

func checksum(r io.Reader, buf []byte) (sum uint32, err error) {
	for {
		n, err := r.Read(buf)
		sum = crc32.Update(sum, castagnoli, buf[:n])
		if err == io.EOF {
			return sum, nil
		}
		if err != nil {
			return sum, err
		}
	}
}
