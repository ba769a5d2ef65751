package maps

import (
	"math/bits"

	"likelyground/raster"
)

// overlap notes which cells of a tile polygons of different classes cover: a
// bit a cell, in the order of the tile's data. Its buffers are used again.
type overlap struct {
	covered, hidden []uint64
	found           bool
}

func (o *overlap) begin(cells int) {
	words := (cells + 63) / 64
	o.covered, o.hidden, o.found = sized(o.covered, words), sized(o.hidden, words), false
	clear(o.covered)
	clear(o.hidden)
}

// lay notes a run before it is painted: its cells as they are, the place of the
// first in the tile, and the class that it gives them.
func (o *overlap) lay(cells []int32, at int, code int32) {
	for from := 0; from < len(cells); {
		word, bit := (at+from)/64, (at+from)%64
		n := min(64-bit, len(cells)-from)
		mask := (^uint64(0) >> (64 - n)) << bit
		if twice := o.covered[word] & mask; twice != 0 {
			o.compare(word, twice, cells[from:], bit, code)
		}
		o.covered[word] |= mask
		from += n
	}
}

// compare marks the cells of a word that had another class; bit is the place
// of the first of cells in the word.
func (o *overlap) compare(word int, twice uint64, cells []int32, bit int, code int32) {
	for ; twice != 0; twice &= twice - 1 {
		i := bits.TrailingZeros64(twice)
		if cells[i-bit] != code {
			o.hidden[word] |= 1 << i
			o.found = true
		}
	}
}

// count counts the needed cells that are marked.
func (o *overlap) count(need []bool) (n int64) {
	if !o.found {
		return 0
	}
	for word, b := range o.hidden {
		for ; b != 0; b &= b - 1 {
			if at := 64*word + bits.TrailingZeros64(b); need == nil || need[at] {
				n++
			}
		}
	}
	return n
}

// Overlap tells, of a sample of the grid, how many cells polygons cover and
// how many of these are covered by several that differ in class or number, of
// which the later one counts. The sample is the same each time: at most 16
// squares of 128 cells spread evenly. It judges and counts nothing else.
func (p *Polygons) Overlap() (covered, hidden int64, err error) {
	const side, across = 128, 4
	r := &polygonReader{source: p, counts: map[int32]int64{}}
	var values, codes raster.Tile
	for i := range across * across {
		w := raster.Window{Cols: min(side, p.grid.Cols), Rows: min(side, p.grid.Rows)}
		w.Col = (p.grid.Cols - w.Cols) * (i % across) / (across - 1)
		w.Row = (p.grid.Rows - w.Rows) * (i / across) / (across - 1)
		tile := &codes
		if p.numbers != nil {
			tile = &values
		}
		if tile.Size() != w.Size() && p.numbers != nil {
			values = raster.NewTile(w)
		} else if tile.Size() != w.Size() {
			codes = raster.NewClassTile(w)
		}
		tile.Window = w
		if err := r.Read(*tile, nil); err != nil {
			return 0, 0, err
		}
		for _, b := range r.over.covered {
			covered += int64(bits.OnesCount64(b))
		}
	}
	return covered, r.hidden, nil
}
