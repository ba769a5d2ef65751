package water

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"unsafe"
)

// Store keeps the layers of a computation: for each layer one record a tile,
// all of one size. Its methods may be called by several goroutines at once,
// though never two for the same record. A record that was never written must
// not be read.
type Store interface {
	// Make begins a layer of so many records of so many bytes each.
	Make(layer string, records, size int) error
	// Write writes the beginning of a record.
	Write(layer string, record int, bytes []byte) error
	// Read fills bytes from a record, beginning at the offset.
	Read(layer string, record, offset int, bytes []byte) error
	// Drop gives a layer's room back. Dropping what is not there is no error.
	Drop(layer string) error
	// Close gives everything back.
	Close() error
}

// Memory is a Store in memory. The zero value is empty and ready.
type Memory struct {
	mu     sync.Mutex
	layers map[string][][]byte
}

// Make begins a layer.
func (m *Memory) Make(layer string, records, size int) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.layers == nil {
		m.layers = map[string][][]byte{}
	}
	m.layers[layer] = make([][]byte, records)
	return nil
}

func (m *Memory) records(layer string) ([][]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	r, ok := m.layers[layer]
	if !ok {
		return nil, fmt.Errorf("water: no layer %q in memory", layer)
	}
	return r, nil
}

// Write keeps a copy of bytes.
func (m *Memory) Write(layer string, record int, bytes []byte) error {
	r, err := m.records(layer)
	if err != nil {
		return err
	}
	if len(r[record]) < len(bytes) {
		r[record] = make([]byte, len(bytes))
	}
	copy(r[record], bytes)
	return nil
}

// Read copies part of a record.
func (m *Memory) Read(layer string, record, offset int, bytes []byte) error {
	r, err := m.records(layer)
	if err != nil {
		return err
	}
	if len(r[record]) < offset+len(bytes) {
		return fmt.Errorf("water: record %d of layer %q ends before byte %d", record, layer, offset+len(bytes))
	}
	copy(bytes, r[record][offset:])
	return nil
}

// Drop forgets a layer.
func (m *Memory) Drop(layer string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.layers, layer)
	return nil
}

// Close forgets everything.
func (m *Memory) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.layers = nil
	return nil
}

// Scratch is a Store of one file a layer. The files bear no name in their
// folder, so that nothing is left of them once the Scratch is closed or the
// program is gone.
type Scratch struct {
	folder string
	mu     sync.Mutex
	layers map[string]scratchLayer
}

type scratchLayer struct {
	file *os.File
	size int
}

// NewScratch returns a Scratch in an existing folder.
func NewScratch(folder string) *Scratch {
	return &Scratch{folder: folder, layers: map[string]scratchLayer{}}
}

// Make begins a layer.
func (s *Scratch) Make(layer string, records, size int) error {
	if err := s.Drop(layer); err != nil {
		return err
	}
	file, err := os.CreateTemp(s.folder, "water-*")
	if err != nil {
		return fmt.Errorf("water: scratch in %s: %w", filepath.Clean(s.folder), err)
	}
	if err := os.Remove(file.Name()); err != nil {
		file.Close()
		return fmt.Errorf("water: scratch: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.layers[layer] = scratchLayer{file, size}
	return nil
}

func (s *Scratch) layer(name string) (scratchLayer, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	l, ok := s.layers[name]
	if !ok {
		return l, fmt.Errorf("water: no layer %q in the scratch folder", name)
	}
	return l, nil
}

// Write writes the beginning of a record.
func (s *Scratch) Write(layer string, record int, bytes []byte) error {
	l, err := s.layer(layer)
	if err == nil {
		_, err = l.file.WriteAt(bytes, int64(record)*int64(l.size))
	}
	if err != nil {
		return fmt.Errorf("water: writing %q to scratch in %s: %w", layer, s.folder, err)
	}
	return nil
}

// Read reads part of a record.
func (s *Scratch) Read(layer string, record, offset int, bytes []byte) error {
	l, err := s.layer(layer)
	if err == nil {
		_, err = l.file.ReadAt(bytes, int64(record)*int64(l.size)+int64(offset))
	}
	if err != nil {
		return fmt.Errorf("water: reading %q from scratch in %s: %w", layer, s.folder, err)
	}
	return nil
}

// Drop closes a layer's file, which is its end.
func (s *Scratch) Drop(layer string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	l, ok := s.layers[layer]
	if !ok {
		return nil
	}
	delete(s.layers, layer)
	return l.file.Close()
}

// Close drops every layer.
func (s *Scratch) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var first error
	for name, l := range s.layers {
		if err := l.file.Close(); err != nil && first == nil {
			first = err
		}
		delete(s.layers, name)
	}
	return first
}

// bytesOf is the memory of numbers, as they stand in records: row by row, in
// the order of bytes that the machine has.
func bytesOf[T uint8 | uint16 | int32 | uint32 | uint64 | float32 | placed](v []T) []byte {
	if len(v) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&v[0])), len(v)*int(unsafe.Sizeof(v[0])))
}
