package pipe

import (
	"sync"
	"unsafe"

	"golang.org/x/sys/unix"

	"likelyground/raster"
)

// pool hands out tile buffers and takes them back. It cuts them from slabs
// that the system is asked to back with large pages: tiles are swept from end
// to end again and again, and with small pages finding these costs as much
// as some of the kernels do.
type pool struct {
	mu   sync.Mutex
	free map[int][][]float32 // by length
	rest []float32           // of the newest slab
}

// slabCells is the length of a slab, 16 MB.
const slabCells = 16 << 20 / 4

func newPool() *pool { return &pool{free: map[int][][]float32{}} }

// get returns a tile whose cells hold anything.
func (p *pool) get(k Kind, w raster.Window) raster.Tile {
	cells := p.take(w.Size())
	if k == Class {
		return raster.Tile{Window: w, Codes: asCodes(cells)}
	}
	return raster.Tile{Window: w, Values: cells}
}

// put takes a tile back, which nobody may use any more.
func (p *pool) put(t raster.Tile) {
	cells := t.Values
	if t.Codes != nil {
		cells = asValues(t.Codes)
	}
	if cells == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	n := cap(cells)
	p.free[n] = append(p.free[n], cells[:n])
}

func (p *pool) take(n int) []float32 {
	p.mu.Lock()
	defer p.mu.Unlock()
	if list := p.free[n]; len(list) > 0 {
		p.free[n] = list[:len(list)-1]
		return list[len(list)-1]
	}
	if len(p.rest) < n {
		p.rest = newSlab(max(n, slabCells))
	}
	cells := p.rest[:n:n]
	p.rest = p.rest[n:]
	return cells
}

func newSlab(n int) []float32 {
	slab := make([]float32, n)
	const large = 2 << 20
	at := uintptr(unsafe.Pointer(&slab[0]))
	from := (at+large-1)&^(large-1) - at
	if end := (at+uintptr(4*n))&^(large-1) - at; from < end {
		bytes := unsafe.Slice((*byte)(unsafe.Pointer(&slab[0])), 4*n)
		_ = unix.Madvise(bytes[from:end], unix.MADV_HUGEPAGE) // a wish: all goes on without
	}
	return slab
}

// asCodes and asValues give the same memory its other kind: both are four
// bytes a cell, and what a buffer holds when it is handed out means nothing.

func asCodes(v []float32) []int32 {
	return unsafe.Slice((*int32)(unsafe.Pointer(unsafe.SliceData(v))), len(v))
}

func asValues(c []int32) []float32 {
	c = c[:cap(c)]
	return unsafe.Slice((*float32)(unsafe.Pointer(unsafe.SliceData(c))), len(c))
}
