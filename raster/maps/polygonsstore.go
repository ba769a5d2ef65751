package maps

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"os"

	"likelyground/raster"
)

// runPart is the index entry of one polygon.
type runPart struct {
	at         int64 // where its record begins
	col0, col1 int32 // the window of the cells it covers, ends exclusive
	row0, row1 int32
	cols       int32 // numbers in its record after the row ends
	code       int32
}

// runStore keeps the runs of every polygon in a scratch file that has no
// name, so that nothing is left of it however the program ends. A record is,
// for each row of the polygon's window, where the row's columns end, and then
// the columns of all rows, all as 32-bit little-endian numbers.
type runStore struct {
	file  *os.File
	w     *bufio.Writer
	at    int64
	parts []runPart
}

func newRunStore(folder string) (*runStore, error) {
	f, err := os.CreateTemp(folder, "outlines-*")
	if err != nil {
		return nil, fmt.Errorf("make a scratch file: %w", err)
	}
	if err := os.Remove(f.Name()); err != nil {
		return nil, errors.Join(fmt.Errorf("take the name off a scratch file: %w", err), f.Close())
	}
	return &runStore{file: f, w: bufio.NewWriterSize(f, 1<<18)}, nil
}

func (s *runStore) close() error { return s.file.Close() }

func (s *runStore) flush() error {
	if err := s.w.Flush(); err != nil {
		return fmt.Errorf("write the scratch file of outlines: %w", err)
	}
	return nil
}

// put appends a polygon.
func (s *runStore) put(r *rowRuns, w raster.Window, code int32) error {
	s.parts = append(s.parts, runPart{
		at:   s.at,
		col0: int32(w.Col), col1: int32(w.EndCol()), row0: int32(w.Row), row1: int32(w.EndRow()),
		cols: int32(len(r.cols)), code: code,
	})
	for _, numbers := range [][]int32{r.ends, r.cols} {
		for _, n := range numbers {
			var b [4]byte
			binary.LittleEndian.PutUint32(b[:], uint32(n))
			if _, err := s.w.Write(b[:]); err != nil {
				return fmt.Errorf("write the scratch file of outlines: %w", err)
			}
		}
		s.at += 4 * int64(len(numbers))
	}
	return nil
}

// record is the part of a polygon's record that a window needs.
type record struct {
	row0  int    // first row in ends
	ends  []byte // where each row's columns end
	first int    // number of the first column in cols
	cols  []byte
}

// readWhole is the size in bytes up to which a record is read at once.
const readWhole = 16 << 10

// read fetches the rows of a part from row to end.
func (s *runStore) read(buf []byte, p *runPart, row, end int) (record, []byte, error) {
	rows := int(p.row1 - p.row0)
	size := 4 * (rows + int(p.cols))
	if size <= readWhole {
		buf, err := s.fetch(buf[:0], p.at, size)
		if err != nil {
			return record{}, buf, err
		}
		return record{row0: int(p.row0), ends: buf[:4*rows], cols: buf[4*rows:]}, buf, nil
	}
	first := max(row-1, int(p.row0)) // the row before says where this one begins
	n := 4 * (end - first)
	buf, err := s.fetch(buf[:0], p.at+4*int64(first-int(p.row0)), n)
	if err != nil {
		return record{}, buf, err
	}
	out := record{row0: first}
	if row > int(p.row0) {
		out.first = int32At(buf, 0)
	}
	last := int32At(buf, end-first-1)
	buf, err = s.fetch(buf, p.at+4*int64(rows+out.first), 4*(last-out.first))
	out.ends, out.cols = buf[:n], buf[n:]
	return out, buf, err
}

// fetch appends bytes of the file to buf.
func (s *runStore) fetch(buf []byte, at int64, n int) ([]byte, error) {
	have := len(buf)
	if cap(buf) < have+n {
		buf = append(make([]byte, 0, 2*(have+n)), buf...)
	}
	buf = buf[:have+n]
	if _, err := s.file.ReadAt(buf[have:], at); err != nil {
		return buf, fmt.Errorf("read the scratch file of outlines: %w", err)
	}
	return buf, nil
}

func int32At(b []byte, i int) int { return int(int32(binary.LittleEndian.Uint32(b[4*i:]))) }

// row returns the place in cols where a row's columns begin and end.
func (r *record) row(row int) (from, to int) {
	i := row - r.row0
	if i > 0 {
		from = int32At(r.ends, i-1) - r.first
	}
	return from, int32At(r.ends, i) - r.first
}
