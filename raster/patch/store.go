package patch

import (
	"fmt"
	"os"
	"sync"

	"likelyground/raster"
)

// Store keeps the summaries of a grid's tiles in one scratch file. In memory
// it holds some tens of bytes a tile. Its methods may be called by several
// goroutines at once.
type Store struct {
	rule Rule
	file *os.File

	mu      sync.Mutex
	end     int64
	tiles   []entry
	tally   Tally
	factors int // -1 before the first summary
}

// entry says where a tile's summary lies in the scratch file.
type entry struct {
	window     raster.Window
	at         int64
	head, body int
	parts      int32
}

// NewStore makes a scratch file in an existing folder. The file bears no
// name there, so that nothing is left of it once the store is closed or the
// program is gone.
func NewStore(folder string, rule Rule) (*Store, error) {
	file, err := os.CreateTemp(folder, "patches-*")
	if err != nil {
		return nil, fmt.Errorf("patches: scratch file: %w", err)
	}
	if err := os.Remove(file.Name()); err != nil {
		file.Close()
		return nil, fmt.Errorf("patches: scratch file: %w", err)
	}
	return &Store{
		rule: rule, file: file, factors: -1,
		tally: Tally{Highest: raster.Missing},
	}, nil
}

// Close gives the scratch file back. Solutions of the store end with it.
func (s *Store) Close() error { return s.file.Close() }

// Put adds a tile's summary; the order of the tiles does not matter.
func (s *Store) Put(sum *Summary) error {
	sum.bytes = sum.appendHead(sum.bytes[:0])
	head := len(sum.bytes)
	sum.bytes = sum.appendBody(sum.bytes)
	e := entry{window: sum.Window, head: head, body: len(sum.bytes) - head, parts: int32(len(sum.parts))}
	e, err := s.book(e, sum)
	if err != nil {
		return err
	}
	if _, err := s.file.WriteAt(sum.bytes, e.at); err != nil {
		return fmt.Errorf("patches: writing scratch: %w", err)
	}
	return nil
}

// book finds the summary's place in the file.
func (s *Store) book(e entry, sum *Summary) (entry, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.factors < 0 {
		s.factors = sum.factors
	}
	if s.factors != sum.factors {
		return e, fmt.Errorf("patches: a tile has %d factors, one before it %d", sum.factors, s.factors)
	}
	e.at = s.end
	s.end += int64(e.head + e.body)
	s.tiles = append(s.tiles, e)
	s.tally.add(sum.Tally)
	return e, nil
}

// read reads n bytes of the scratch file into b's memory.
func (s *Store) read(b []byte, at int64, n int) ([]byte, error) {
	b = cleared(b, n)
	if _, err := s.file.ReadAt(b, at); err != nil {
		return b, fmt.Errorf("patches: reading scratch: %w", err)
	}
	return b, nil
}

// runs appends the runs of a tile's wanted components, labelled as in the
// tile; b is memory to read into.
func (s *Store) runs(out []run, b []byte, t entry, wanted []bool) ([]run, []byte, error) {
	b, err := s.read(b, t.at+int64(t.head), t.body)
	if err != nil {
		return out, b, err
	}
	d := decoder{b: b}
	if out, err = d.body(out, int32(t.window.Row), int32(t.window.Col), wanted); err != nil {
		err = fmt.Errorf("patches: tile %+v: %w", t.window, err)
	}
	return out, b, err
}
