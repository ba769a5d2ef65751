package cog

import (
	"container/list"
	"math/bits"
	"sync"

	"likelyground/raster"
)

// blockKey names one block of the file.
type blockKey struct{ level, band, block int }

// pending is a block some of whose cells are still to come. Its cells are in
// memory or, when memory is short, in the scratch file.
type pending struct {
	key    blockKey
	window raster.Window

	// Under Writer.mu:
	pins     int           // encoders that work on it
	finished bool          // all cells have come
	idle     *list.Element // its place among the blocks that may leave memory

	mu    sync.Mutex // for what follows
	tile  raster.Tile
	seen  []uint64 // full resolution: the cells that have come, one bit each
	left  int      // cells (full resolution) or blocks of the level before still to come
	known int      // overviews: known cells
	away  place    // where its cells lie in scratch
	out   bool     // they lie there and not in tile
}

// store holds the unfinished blocks of a writer and the memory they take.
type store struct {
	open  map[blockKey]*pending
	idle  *list.List // unpinned blocks in memory, untouched longest first
	spare []raster.Tile
	husks []*pending // finished ones, to be used again
	slots []place    // room in scratch that a finished block left
	held  int        // buffers made so far
	most  int        // buffers that fit in the memory given
}

func newStore(l Layout) store {
	block := int64(l.Block) * int64(l.Block) * 4
	return store{open: map[blockKey]*pending{}, idle: list.New(), most: int(max(1, l.Memory/block))}
}

// pin returns the unfinished block of a key, a new one if there is none, and
// keeps it from leaving memory until it is unpinned. The caller holds mu.
func (w *Writer) pin(k blockKey) *pending {
	s := &w.store
	p := s.open[k]
	if p == nil {
		p = w.newPending(k)
		s.open[k] = p
	}
	p.pins++
	if p.idle != nil {
		s.idle.Remove(p.idle)
		p.idle = nil
	}
	return p
}

func (w *Writer) newPending(k blockKey) *pending {
	s := &w.store
	p := new(pending)
	if n := len(s.husks); n > 0 {
		p, s.husks = s.husks[n-1], s.husks[:n-1]
	}
	p.key, p.window = k, w.levels[k.level].window(k.block)
	p.finished, p.out, p.known = false, false, 0
	if k.level > 0 {
		p.left = w.levels[k.level].children(k.block, w.levels[k.level-1])
		return p
	}
	p.left = p.window.Size()
	words := (p.left + 63) / 64
	if cap(p.seen) < words {
		p.seen = make([]uint64, (w.layout.Block*w.layout.Block+63)/64)
	}
	p.seen = p.seen[:words]
	clear(p.seen)
	return p
}

// hold pins a block, locks it and sees that its cells are in memory. After
// an error it is neither locked nor pinned.
func (e *Encoder) hold(k blockKey, begin bool) (*pending, error) {
	w := e.w
	w.mu.Lock()
	if begin {
		if err := w.begin(k, false); err != nil {
			w.mu.Unlock()
			return nil, err
		}
	}
	p := w.pin(k)
	w.mu.Unlock()
	p.mu.Lock()
	if p.tile.Values != nil || p.tile.Codes != nil || p.left == 0 {
		return p, nil
	}
	err := e.bring(p)
	if err != nil {
		p.mu.Unlock()
		w.unpin(p)
		return nil, err
	}
	return p, nil
}

// bring gives a locked block a buffer and its cells.
func (e *Encoder) bring(p *pending) error {
	t, err := e.buffer()
	if err != nil {
		return err
	}
	t.Window = p.window
	if t.Codes != nil {
		t.Codes = t.Codes[:p.window.Size()]
	} else {
		t.Values = t.Values[:p.window.Size()]
	}
	if p.out {
		raw := e.raw[:4*p.window.Size()]
		if err := e.w.scratch.read(p.away, raw); err != nil {
			return err
		}
		unpack(t, raw)
		p.out = false
	}
	p.tile = t
	return nil
}

// buffer returns the cells of one block: spare ones, new ones while memory
// lasts, or those of the block that was untouched longest. When every block
// is being worked on, new ones all the same.
func (e *Encoder) buffer() (raster.Tile, error) {
	w, s := e.w, &e.w.store
	w.mu.Lock()
	if n := len(s.spare); n > 0 {
		t := s.spare[n-1]
		s.spare = s.spare[:n-1]
		w.mu.Unlock()
		return t, nil
	}
	oldest := s.idle.Front()
	if s.held < s.most || oldest == nil {
		s.held++
		w.mu.Unlock()
		return w.newCells(), nil
	}
	p := s.idle.Remove(oldest).(*pending)
	p.idle = nil
	if p.away == (place{}) {
		p.away = w.slot()
	}
	p.mu.Lock() // free: nobody has it pinned
	defer p.mu.Unlock()
	w.mu.Unlock()
	return e.sendAway(p)
}

func (w *Writer) newCells() raster.Tile {
	cells := raster.Window{Cols: w.layout.Block, Rows: w.layout.Block}
	if w.layout.Sample.values() {
		return raster.NewTile(cells)
	}
	return raster.NewClassTile(cells)
}

// slot returns room in scratch for the cells of one block.
func (w *Writer) slot() place {
	s := &w.store
	if n := len(s.slots); n > 0 {
		at := s.slots[n-1]
		s.slots = s.slots[:n-1]
		return at
	}
	return w.scratch.claim(4 * int64(w.layout.Block) * int64(w.layout.Block))
}

// sendAway writes the cells of a locked block to scratch and returns its
// buffer.
func (e *Encoder) sendAway(p *pending) (raster.Tile, error) {
	raw := e.raw[:4*p.window.Size()]
	pack(raw, p.tile)
	if err := e.w.scratch.write(p.away, raw); err != nil {
		return raster.Tile{}, err
	}
	t := p.tile
	p.tile, p.out = raster.Tile{}, true
	return whole(t), nil
}

// whole returns the buffer of a tile at its full length.
func whole(t raster.Tile) raster.Tile {
	return raster.Tile{Values: t.Values[:cap(t.Values)], Codes: t.Codes[:cap(t.Codes)]}
}

// unpin lets go of a block. One that is finished gives back what it holds
// when the last encoder lets go.
func (w *Writer) unpin(p *pending) {
	w.mu.Lock()
	defer w.mu.Unlock()
	p.pins--
	if p.pins > 0 {
		return
	}
	if !p.finished {
		if p.tile.Values != nil || p.tile.Codes != nil {
			p.idle = w.store.idle.PushBack(p)
		}
		return
	}
	w.retire(p)
}

func (w *Writer) retire(p *pending) {
	s := &w.store
	if p.away != (place{}) {
		s.slots = append(s.slots, p.away)
		p.away = place{}
	}
	s.spare = append(s.spare, whole(p.tile))
	p.tile = raster.Tile{}
	s.husks = append(s.husks, p)
}

// finish marks a block whose last cells have come; it is found no more.
func (w *Writer) finish(p *pending) {
	w.mu.Lock()
	defer w.mu.Unlock()
	p.finished = true
	delete(w.store.open, p.key)
}

// mark notes that the cells of part have come to a locked block of full
// resolution. It returns false, having noted nothing, when one of them had
// come before.
func (p *pending) mark(part raster.Window) bool {
	for _, set := range [...]bool{false, true} {
		for row := part.Row; row < part.EndRow(); row++ {
			from := p.window.Index(part.Col, row)
			if !markRun(p.seen, from, from+part.Cols, set) {
				return false
			}
		}
	}
	p.left -= part.Size()
	return true
}

// markRun looks at bits from to end, or sets them; it returns false when it
// looked and found one set.
func markRun(seen []uint64, from, end int, set bool) bool {
	for from < end {
		word, bit := from/64, from%64
		n := min(64-bit, end-from)
		mask := (^uint64(0) >> (64 - n)) << bit
		if set {
			seen[word] |= mask
		} else if seen[word]&mask != 0 {
			return false
		}
		from += n
	}
	return true
}

// missingCells counts the cells of a block that have not come.
func (p *pending) missingCells() int {
	n := p.window.Size()
	for _, word := range p.seen {
		n -= bits.OnesCount64(word)
	}
	return n
}
