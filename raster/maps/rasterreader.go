package maps

import (
	"fmt"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// mostCells bounds the source cells read at once. A window that needs more is
// cut into smaller ones, which changes no value.
var mostCells = 1 << 22

// mostPoints bounds the positions computed at once.
const mostPoints = 1 << 17

// rasterReader brings windows of a Raster onto the grid. All its buffers are
// used again from call to call.
type rasterReader struct {
	source  *Raster
	parts   []partReader
	handles handles
	raw     rawCells
	block   block
	layer   raster.Tile // what a later part gives
	want    []bool      // cells a later part is asked for
	cols    []float64   // positions of one row
	rows    []float64
	line    []int32 // columns of the points of a row, in the block
	at      []int32 // places of points in the block's data
	sum     []float64
	count   []int32
	codes   []int32
	votes   votes
	counts  counts
	found   []finding
}

// partReader is a part with the positions of its cells.
type partReader struct {
	part    *part
	lattice *crs.LatticeReader
}

// Read fills dst as [Reader] says.
func (r *rasterReader) Read(dst raster.Tile, need []bool) error {
	if err := r.fits(dst, need); err != nil {
		return err
	}
	if dst.Empty() {
		return nil
	}
	if done, err := r.readStraight(dst, need); done || err != nil {
		r.source.tally.merge(&r.counts)
		return err
	}
	for i := range r.parts {
		p := &r.parts[i]
		if err := p.ready(); err != nil {
			return err
		}
		if i == 0 {
			if err := r.align(p, dst, dst.Window, need); err != nil {
				return err
			}
			continue
		}
		if !r.wanting(dst, need) {
			break
		}
		if err := r.layOver(p, dst); err != nil {
			return err
		}
	}
	if _, ok := r.source.absent(); ok && len(r.parts) > 1 {
		if err := r.fillAbsent(dst); err != nil {
			return err
		}
	}
	if err := r.countGaps(dst, need); err != nil {
		return err
	}
	r.counts.take(dst, need)
	r.source.tally.merge(&r.counts)
	return nil
}

// Close frees files and buffers.
func (r *rasterReader) Close() error {
	for i := range r.parts {
		if r.parts[i].lattice != nil {
			r.parts[i].lattice.Close()
			r.parts[i].lattice = nil
		}
	}
	return r.handles.close()
}

// fits refuses a tile that cannot take the map's values.
func (r *rasterReader) fits(dst raster.Tile, need []bool) error {
	values, codes := dst.Size(), 0
	if r.source.spec.Classes {
		values, codes = 0, dst.Size()
	}
	if len(dst.Values) != values || len(dst.Codes) != codes {
		return fmt.Errorf("map %q: a tile for %d quantities and %d codes was given, one for %d and %d is needed",
			r.source.spec.Name, len(dst.Values), len(dst.Codes), values, codes)
	}
	if need != nil && len(need) != dst.Size() {
		return fmt.Errorf("map %q: %d marks were given for %d cells", r.source.spec.Name, len(need), dst.Size())
	}
	return nil
}

// ready opens the part's positions at first use.
func (p *partReader) ready() error {
	if p.lattice != nil {
		return nil
	}
	var err error
	p.lattice, err = p.part.lattice.Reader()
	return err
}

// wanting marks in r.want the needed cells that are still missing, and tells
// whether any cell is missing at all.
func (r *rasterReader) wanting(dst raster.Tile, need []bool) bool {
	r.want = sized(r.want, dst.Size())
	missing := false
	for i := range r.want {
		gap := false
		if dst.Codes != nil {
			gap = dst.Codes[i] == raster.MissingCode
		} else {
			gap = dst.Values[i] != dst.Values[i]
		}
		missing = missing || gap
		r.want[i] = gap && (need == nil || need[i])
	}
	return missing
}

// layOver fills the missing cells of dst from a later part.
func (r *rasterReader) layOver(p *partReader, dst raster.Tile) error {
	if !p.touches(dst.Window) {
		return nil
	}
	t := raster.Tile{Window: dst.Window}
	if dst.Codes != nil {
		r.layer.Codes = sized(r.layer.Codes, dst.Size())
		t.Codes = r.layer.Codes
	} else {
		r.layer.Values = sized(r.layer.Values, dst.Size())
		t.Values = r.layer.Values
	}
	if err := r.align(p, t, t.Window, r.want); err != nil {
		return err
	}
	for i, v := range t.Values {
		if w := dst.Values[i]; w != w {
			dst.Values[i] = v
		}
	}
	for i, c := range t.Codes {
		if dst.Codes[i] == raster.MissingCode {
			dst.Codes[i] = c
		}
	}
	return nil
}

// touches tells whether any position of the window may lie in the part.
func (p *partReader) touches(w raster.Window) bool {
	c0, r0, c1, r1, ok := p.lattice.SourceWindow(w)
	return ok && !around(c0, r0, c1, r1, 0).Clip(p.part.extent).Empty()
}

// align fills the cells w of dst from one part, in pieces whose source cells
// fit into memory.
func (r *rasterReader) align(p *partReader, dst raster.Tile, w raster.Window, need []bool) error {
	src := r.sourceWindow(p, w)
	if w.Size() > 1 && (src.Size() > mostCells || w.Cols*p.part.points > mostPoints) {
		first, second := halves(w, p.part.points)
		if err := r.align(p, dst, first, need); err != nil {
			return err
		}
		return r.align(p, dst, second, need)
	}
	if src.Empty() {
		r.fillOutside(p, dst, w)
		return nil
	}
	if err := r.load(p.part, src); err != nil {
		return err
	}
	r.resample(p, dst, w)
	if r.block.lost {
		return fmt.Errorf("map %q: cells of %s were used that had not been read: an error in the program", r.source.spec.Name, p.part.tiles[0].path)
	}
	if r.block.dirty {
		return r.judge(p, dst.Window, w, need)
	}
	return nil
}

// fillOutside gives cells that lie off the part's ground the value of such
// ground; missing if there is none.
func (r *rasterReader) fillOutside(p *partReader, dst raster.Tile, w raster.Window) {
	value, code := raster.Missing, raster.MissingCode
	if v, ok := r.source.absent(); ok && len(r.parts) == 1 {
		value, code = float32(v), int32(v)
	}
	for row := w.Row; row < w.EndRow(); row++ {
		at := dst.Index(w.Col, row)
		if dst.Codes != nil {
			setAll(dst.Codes[at:at+w.Cols], code)
		} else {
			setAll(dst.Values[at:at+w.Cols], value)
		}
	}
}

// sourceWindow returns the source cells that the grid cells w may use; empty
// where none of them lies in the part.
func (r *rasterReader) sourceWindow(p *partReader, w raster.Window) raster.Window {
	if s := p.part.shift; s != nil {
		return raster.Window{Col: w.Col + s[0], Row: w.Row + s[1], Cols: w.Cols, Rows: w.Rows}.Clip(p.part.extent)
	}
	c0, r0, c1, r1, ok := p.lattice.SourceWindow(w)
	if !ok || around(c0, r0, c1, r1, 1).Clip(p.part.extent).Empty() {
		return raster.Window{}
	}
	return around(c0, r0, c1, r1, 2).Clip(p.part.extent.Grow(2))
}

// around returns the whole cells that a box of positions touches, grown by n;
// far positions are cut off.
func around(c0, r0, c1, r1 float64, n int) raster.Window {
	const far = 1 << 30
	left, top := raster.CellAt(max(c0, -far)), raster.CellAt(max(r0, -far))
	right, bottom := raster.CellAt(min(c1, far))+1, raster.CellAt(min(r1, far))+1
	return raster.Window{Col: left, Row: top, Cols: max(right-left, 0), Rows: max(bottom-top, 0)}.Grow(n)
}

// halves cuts a window in two: by rows, as long as a row is not too much.
func halves(w raster.Window, points int) (first, second raster.Window) {
	first, second = w, w
	if w.Rows > 1 && w.Cols*points <= mostPoints {
		first.Rows = w.Rows / 2
		second.Row += first.Rows
		second.Rows -= first.Rows
		return first, second
	}
	first.Cols = max(w.Cols/2, 1)
	second.Col += first.Cols
	second.Cols -= first.Cols
	if second.Cols == 0 {
		first.Rows = w.Rows / 2
		second = raster.Window{Col: w.Col, Row: w.Row + first.Rows, Cols: w.Cols, Rows: w.Rows - first.Rows}
	}
	return first, second
}

// position computes the source positions of a row of grid cells.
func (r *rasterReader) position(p *partReader, w raster.Window, row, k, j int) {
	n := w.Cols * k
	r.cols, r.rows = sized(r.cols, n), sized(r.rows, n)
	p.lattice.Row(w.Col, w.Cols, row, k, j, r.cols, r.rows)
}

// sized returns a slice of n elements, the old one where it is long enough.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// setAll sets all elements.
func setAll[T any](s []T, v T) {
	for i := range s {
		s[i] = v
	}
}
