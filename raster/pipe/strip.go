package pipe

import (
	"sync"

	"likelyground/raster"
)

// lattice cuts windows into square tiles that start at multiples of size,
// counted from the grid's north-western cell, negative ones included.
type lattice struct{ size int }

func (l lattice) index(cell int) int {
	if cell < 0 {
		return -((-cell + l.size - 1) / l.size)
	}
	return cell / l.size
}

// span returns the tiles that a window touches, as a window counted in tiles.
func (l lattice) span(w raster.Window) raster.Window {
	if w.Empty() {
		return raster.Window{}
	}
	c, r := l.index(w.Col), l.index(w.Row)
	return raster.Window{Col: c, Row: r, Cols: l.index(w.EndCol()-1) - c + 1, Rows: l.index(w.EndRow()-1) - r + 1}
}

// cells returns the part of tile (col, row) that lies in the domain.
func (l lattice) cells(col, row int, domain raster.Window) raster.Window {
	return raster.Window{Col: col * l.size, Row: row * l.size, Cols: l.size, Rows: l.size}.Clip(domain)
}

// keptTile is one tile of a kept unit: made once, dropped after its last
// reader.
type keptTile struct {
	tile    raster.Tile
	readers int
	claimed bool
	done    bool
}

// strip computes the outputs over one window, which is narrow enough for its
// kept tiles to fit into memory.
type strip struct {
	shape   *shape
	lattice lattice
	domain  map[*unit]raster.Window
	span    map[*unit]raster.Window // in tiles
	pool    *pool
	wanted  func(raster.Window) bool // output tiles; nil: all

	mu    sync.Mutex
	ready *sync.Cond
	kept  map[*unit][]keptTile
	next  int // next output tile to hand out
	err   firstError
}

func newStrip(s *shape, l lattice, w raster.Window, p *pool, wanted func(raster.Window) bool) *strip {
	st := &strip{shape: s, lattice: l, domain: s.domains(w), span: map[*unit]raster.Window{}, kept: map[*unit][]keptTile{}, pool: p, wanted: wanted}
	st.ready = sync.NewCond(&st.mu)
	for u, d := range st.domain {
		st.span[u] = l.span(d)
		if u != s.sink {
			st.kept[u] = make([]keptTile, st.span[u].Size())
		}
	}
	st.countReaders(s.sink)
	for _, u := range s.units {
		st.countReaders(u)
	}
	return st
}

// countReaders adds the reads of every tile of u that somebody wants to the
// tiles that it reads. The readers of u are counted before.
func (st *strip) countReaders(u *unit) {
	span := st.span[u]
	for row := span.Row; row < span.EndRow(); row++ {
		for col := span.Col; col < span.EndCol(); col++ {
			if !st.needed(u, col, row) {
				continue
			}
			st.eachRead(u, col, row, func(k *keptTile, _ *unit, _, _ int) { k.readers++ })
		}
	}
}

// needed reports whether a tile of u has to be computed.
func (st *strip) needed(u *unit, col, row int) bool {
	if u != st.shape.sink {
		return st.kept[u][st.span[u].Index(col, row)].readers > 0
	}
	return st.wanted == nil || st.wanted(st.lattice.cells(col, row, st.domain[u]))
}

// eachRead calls f for each kept tile that tile (col, row) of u reads; a tile
// read through two edges comes twice.
func (st *strip) eachRead(u *unit, col, row int, f func(k *keptTile, from *unit, col, row int)) {
	w := st.lattice.cells(col, row, st.domain[u])
	for _, e := range u.reads {
		need := st.lattice.span(w.Grow(e.reach))
		span, tiles := st.span[e.from], st.kept[e.from]
		for r := need.Row; r < need.EndRow(); r++ {
			for c := need.Col; c < need.EndCol(); c++ {
				f(&tiles[span.Index(c, r)], e.from, c, r)
			}
		}
	}
}

// hand gives out the next wanted output tile, row by row; ok is false after the last
// one or after an error.
func (st *strip) hand() (at, col, row int, ok bool) {
	st.mu.Lock()
	defer st.mu.Unlock()
	span := st.span[st.shape.sink]
	for st.err.err == nil && st.next < span.Size() {
		at = st.next
		st.next++
		col, row = span.Col+at%span.Cols, span.Row+at/span.Cols
		if st.needed(st.shape.sink, col, row) {
			return at, col, row, true
		}
	}
	return 0, 0, 0, false
}

// fail notes an error of an output tile and wakes whoever waits.
func (st *strip) fail(at int, err error) {
	st.mu.Lock()
	st.err.note(at, err)
	st.ready.Broadcast()
	st.mu.Unlock()
}

// claim reports whether the caller is to compute the tile.
func (st *strip) claim(k *keptTile) bool {
	st.mu.Lock()
	defer st.mu.Unlock()
	if k.claimed {
		return false
	}
	k.claimed = true
	return true
}

// publish makes a computed tile readable.
func (st *strip) publish(k *keptTile, t raster.Tile) {
	st.mu.Lock()
	k.tile, k.done = t, true
	st.ready.Broadcast()
	st.mu.Unlock()
}

// wait returns when the tile is there; ok is false if the strip has failed.
func (st *strip) wait(k *keptTile) (ok bool) {
	st.mu.Lock()
	defer st.mu.Unlock()
	for !k.done && st.err.err == nil {
		st.ready.Wait()
	}
	return k.done
}

// release says that one reader has had the tile.
func (st *strip) release(k *keptTile) {
	st.mu.Lock()
	k.readers--
	if k.readers == 0 {
		st.pool.put(k.tile)
		k.tile = raster.Tile{}
	}
	st.mu.Unlock()
}

// firstError keeps the error of the earliest output tile.
type firstError struct {
	at  int
	err error
}

func (f *firstError) note(at int, err error) {
	if f.err == nil || (at < f.at && err != errStopped) {
		f.at, f.err = at, err
	}
}
