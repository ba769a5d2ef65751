package hotspot

import (
	"likelyground/raster"
	"likelyground/raster/patch"
)

// Hectare is the part of a hotspot to go to first: a square of a hectare, as
// near as whole cells come to it, with as much known ground of the hotspot in
// it as any square has, to a tenth, and of those squares the one with the
// highest mean score over that ground; of equal ones the one whose middle is
// nearest to the hotspot's inner point, then the northernmost, then the
// westernmost.
type Hectare struct {
	Window raster.Window // the square; may reach beyond the hotspot
	Cells  int64         // of the hotspot in it that are known throughout
	Mean   float64       // of their scores
	Point  patch.Cell    // of those cells the one nearest to the square's middle
}

// field holds the scores of the cells in a hotspot's box.
type field struct {
	box   raster.Window
	cells []uint16 // score, or noCell; see unknownCell
}

const (
	noCell      = 1<<16 - 1 // not of the hotspot
	unknownCell = 1 << 15   // added to the score where a factor is missing
)

func newField(box raster.Window) field {
	f := field{box, make([]uint16, box.Size())}
	for i := range f.cells {
		f.cells[i] = noCell
	}
	return f
}

// set notes a cell; nothing where the field is not held.
func (f *field) set(col, row int, units int64, known bool) {
	if f.cells == nil {
		return
	}
	v := uint16(units)
	if !known {
		v |= unknownCell
	}
	f.cells[f.box.Index(col, row)] = v
}

// square is a candidate for the best hectare.
type square struct {
	col, row   int
	cells, sum int64
}

// best finds the best known hectare of cols × rows cells; nil where no cell is
// known throughout, or the field is not held.
func (f *field) best(cols, rows int, inner patch.Cell) *Hectare {
	if f.cells == nil {
		return nil
	}
	var fullest int64
	f.eachSquare(cols, rows, func(s square) { fullest = max(fullest, s.cells) })
	if fullest == 0 {
		return nil
	}
	var best square
	f.eachSquare(cols, rows, func(s square) {
		if s.cells*10 >= fullest*9 && (best.cells == 0 || f.better(s, best, cols, rows, inner)) {
			best = s
		}
	})
	w := raster.Window{Col: best.col, Row: best.row, Cols: cols, Rows: rows}
	return &Hectare{w, best.cells, float64(best.sum) / patch.ScoreUnit / float64(best.cells), f.middle(w)}
}

// better reports whether a is to be preferred to b, which comes before it.
func (f *field) better(a, b square, cols, rows int, inner patch.Cell) bool {
	if x, y := a.sum*b.cells, b.sum*a.cells; x != y {
		return x > y
	}
	return a.away(cols, rows, inner) < b.away(cols, rows, inner)
}

// away is the square of the distance from a cell's centre to the middle of
// the square, in half cells.
func (s square) away(cols, rows int, c patch.Cell) int64 {
	dx, dy := int64(2*s.col+cols-2*c.Col-1), int64(2*s.row+rows-2*c.Row-1)
	return dx*dx + dy*dy
}

// eachSquare calls f for the squares that lie in the box, or, where the box
// is narrower than they are, about its middle: by row, then column.
func (f *field) eachSquare(cols, rows int, visit func(square)) {
	firstCol, lastCol := places(f.box.Cols, cols)
	firstRow, lastRow := places(f.box.Rows, rows)
	count, sum := make([]int64, f.box.Cols), make([]int64, f.box.Cols) // of rows rows, by column
	for row := max(firstRow, 0); row < min(firstRow+rows-1, f.box.Rows); row++ {
		f.addRow(row, 1, count, sum)
	}
	for row := firstRow; row <= lastRow; row++ {
		f.addRow(row+rows-1, 1, count, sum)
		s := square{row: f.box.Row + row}
		for col := max(firstCol, 0); col < min(firstCol+cols-1, f.box.Cols); col++ {
			s.cells, s.sum = s.cells+count[col], s.sum+sum[col]
		}
		for col := firstCol; col <= lastCol; col++ {
			if in := col + cols - 1; in < f.box.Cols {
				s.cells, s.sum = s.cells+count[in], s.sum+sum[in]
			}
			s.col = f.box.Col + col
			visit(s)
			if col >= 0 {
				s.cells, s.sum = s.cells-count[col], s.sum-sum[col]
			}
		}
		f.addRow(row, -1, count, sum)
	}
}

// places returns the first and the last place of a stretch in a longer one,
// or the one place where it stands over on both sides alike.
func places(whole, part int) (first, last int) {
	if part > whole {
		return -((part - whole) / 2), -((part - whole) / 2)
	}
	return 0, whole - part
}

// addRow adds the known cells of a row, or takes them away again.
func (f *field) addRow(row int, sign int64, count, sum []int64) {
	if row < 0 || row >= f.box.Rows {
		return
	}
	for i, v := range f.cells[row*f.box.Cols:][:f.box.Cols] {
		if v < unknownCell {
			count[i] += sign
			sum[i] += sign * int64(v)
		}
	}
}

// middle returns the known cell of a square that is nearest to its middle;
// equal ones go by position.
func (f *field) middle(w raster.Window) (best patch.Cell) {
	in := w.Clip(f.box)
	mid := square{col: w.Col, row: w.Row}
	least := int64(-1)
	for row := in.Row; row < in.EndRow(); row++ {
		for col := in.Col; col < in.EndCol(); col++ {
			c := patch.Cell{Col: col, Row: row}
			d := mid.away(w.Cols, w.Rows, c)
			if f.cells[f.box.Index(col, row)] < unknownCell && (least < 0 || d < least) {
				best, least = c, d
			}
		}
	}
	return best
}
