package maps

import (
	"fmt"

	"likelyground/raster"
)

// polygonReader fills tiles from the stored runs. It is not for two
// goroutines; its buffers are used again.
type polygonReader struct {
	source *Polygons
	found  []int32
	codes  []int32 // of a tile of quantities
	buf    []byte
	counts map[int32]int64
	over   overlap
	hidden int64 // needed cells that polygons of different classes cover
	closed bool
}

// Reader opens a reader for one goroutine.
func (p *Polygons) Reader() (Reader, error) {
	return &polygonReader{source: p, counts: map[int32]int64{}}, nil
}

// Close hands the counts to the source; a second call does nothing.
func (r *polygonReader) Close() error {
	if !r.closed {
		r.source.tally.merge(r.counts, r.hidden)
	}
	r.closed = true
	return nil
}

// Read fills the tile: every cell first with what no polygon covers, then
// polygon by polygon, so that the later one wins.
func (r *polygonReader) Read(dst raster.Tile, need []bool) error {
	p := r.source
	if (dst.Codes == nil) != (p.numbers != nil) {
		return fmt.Errorf("map %q is read as what it is not: classes or a quantity", p.spec.Name)
	}
	values := dst.Values
	if p.numbers != nil {
		r.codes = sized(r.codes, dst.Size())
		dst.Codes = r.codes
	}
	paint(dst.Codes, p.base)
	r.over.begin(dst.Size())
	r.found = p.tree.search(r.found[:0], dst.Window)
	for _, id := range r.found {
		if err := r.draw(dst, &p.runs.parts[id]); err != nil {
			return p.spec.about(err)
		}
	}
	count(r.counts, dst.Codes, need)
	r.hidden += r.over.count(need)
	if p.numbers != nil {
		p.numbers.fill(values, dst.Codes)
	}
	return nil
}

// draw lays one polygon into the tile.
func (r *polygonReader) draw(dst raster.Tile, part *runPart) error {
	row, end := max(dst.Row, int(part.row0)), min(dst.EndRow(), int(part.row1))
	rec, buf, err := r.source.runs.read(r.buf, part, row, end)
	r.buf = buf
	if err != nil {
		return err
	}
	for ; row < end; row++ {
		from, to := rec.row(row)
		r.drawRow(dst, row, rec.cols[4*from:4*to], part.code)
	}
	return nil
}

// drawRow fills the runs of one row.
func (r *polygonReader) drawRow(dst raster.Tile, row int, cols []byte, code int32) {
	cells, left, right := dst.CodeRow(row), dst.Col, dst.EndCol()
	at := dst.Index(left, row)
	n := len(cols) / 4
	for i := firstRun(cols, n, left); i < n; i += 2 {
		from, to := int32At(cols, i), int32At(cols, i+1)
		if from >= right {
			return
		}
		if from, to = max(from, left), min(to, right); from < to {
			r.over.lay(cells[from-left:to-left], at+from-left, code)
			paint(cells[from-left:to-left], code)
		}
	}
}

// firstRun returns the first run, an even place in cols, that ends right of
// a column.
func firstRun(cols []byte, n, left int) int {
	low, high := 0, n/2
	for low < high {
		m := (low + high) / 2
		if int32At(cols, 2*m+1) > left {
			high = m
		} else {
			low = m + 1
		}
	}
	return 2 * low
}

// paint gives cells a class.
func paint(cells []int32, code int32) {
	for i := range cells {
		cells[i] = code
	}
}
