package cog

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"sync/atomic"

	"likelyground/raster"
)

// scratch is the file that compressed blocks wait in until the end, and
// unfinished blocks when memory is short. It is safe for many goroutines.
type scratch struct {
	folder string
	file   *os.File
	size   atomic.Int64
}

// place is where bytes lie in the scratch file; the zero value is nowhere.
type place struct{ offset, size int64 }

func createScratch(folder string) (*scratch, error) {
	if folder == "" {
		return nil, errors.New("no folder given for scratch")
	}
	f, err := os.CreateTemp(folder, "blocks-*.tmp")
	if err != nil {
		return nil, fmt.Errorf("no scratch file can be made in folder %s: %w", folder, err)
	}
	return &scratch{folder: folder, file: f}, nil
}

// claim sets bytes aside at the end of the file.
func (s *scratch) claim(size int64) place { return place{s.size.Add(size) - size, size} }

func (s *scratch) write(at place, data []byte) error {
	if _, err := s.file.WriteAt(data, at.offset); err != nil {
		return fmt.Errorf("writing %d bytes to scratch in folder %s: %w (free space there, or name another scratch folder)", len(data), s.folder, err)
	}
	return nil
}

func (s *scratch) append(data []byte) (place, error) {
	at := s.claim(int64(len(data)))
	return at, s.write(at, data)
}

func (s *scratch) read(at place, data []byte) error {
	n, err := s.file.ReadAt(data, at.offset)
	if n == len(data) {
		return nil
	}
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("reading %d bytes from scratch in folder %s: %w (was the file cut short?)", len(data), s.folder, err)
}

// remove closes and deletes the file. Doing so twice is no error.
func (s *scratch) remove() error {
	if s.file == nil {
		return nil
	}
	name := s.file.Name()
	err := errors.Join(s.file.Close(), os.Remove(name))
	s.file = nil
	return err
}

// pack and unpack carry the cells of a tile to bytes and back; buf has four
// bytes a cell.
func pack(buf []byte, t raster.Tile) {
	for i, v := range t.Values {
		binary.LittleEndian.PutUint32(buf[4*i:], math.Float32bits(v))
	}
	for i, c := range t.Codes {
		binary.LittleEndian.PutUint32(buf[4*i:], uint32(c))
	}
}

func unpack(t raster.Tile, buf []byte) {
	for i := range t.Values {
		t.Values[i] = math.Float32frombits(binary.LittleEndian.Uint32(buf[4*i:]))
	}
	for i := range t.Codes {
		t.Codes[i] = int32(binary.LittleEndian.Uint32(buf[4*i:]))
	}
}
