package nearby

import "likelyground/raster"

// Dilate finds the cells that have a marked cell within a disc. It is not for
// two goroutines.
type Dilate struct{ marks *counter }

// NewDilate returns a Dilate for a disc.
func NewDilate(d Disc) *Dilate { return &Dilate{newCounter(d)} }

// Classes sets the codes of dst to 1 where a cell of src within the disc has
// code 1, else to 0. The window of src is dst's grown by the disc's reach.
func (d *Dilate) Classes(dst, src raster.Tile) {
	d.marks.start(dst.Cols, dst.Rows)
	ones := 0
	for row := range src.Rows {
		ones += d.mark(row, src.CodeRow(src.Row+row))
	}
	for row := range dst.Rows {
		out := dst.CodeRow(dst.Row + row)
		if ones == len(src.Codes) {
			fill(out, 1)
			continue
		}
		counts, _ := d.marks.count(row)
		for i, n := range counts[:len(out)] {
			out[i] = int32(min(n, 1))
		}
	}
}

// mark marks the cells of a source row and returns their number.
func (d *Dilate) mark(row int, codes []int32) int {
	marks, ones := d.marks.row(row)[:len(codes)], 0
	for i, code := range codes {
		marks[i] = 0
		if code == 1 {
			marks[i] = 1
			ones++
		}
	}
	d.marks.inRow[row] = ones
	return ones
}

func fill[T any](out []T, v T) {
	for i := range out {
		out[i] = v
	}
}
