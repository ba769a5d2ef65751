package raster

// Window is a rectangle of cells of a grid. It may lie partly or wholly
// beyond the grid: neighbourhoods read on beyond the rim.
type Window struct {
	Col, Row   int // first column and row
	Cols, Rows int // size; a window with either at 0 is empty
}

// Empty reports whether the window holds no cell.
func (w Window) Empty() bool { return w.Cols <= 0 || w.Rows <= 0 }

// Size returns the number of cells in the window.
func (w Window) Size() int {
	if w.Empty() {
		return 0
	}
	return w.Cols * w.Rows
}

// EndCol and EndRow return the first column and row beyond the window.
func (w Window) EndCol() int { return w.Col + w.Cols }

// EndRow returns the first row beyond the window.
func (w Window) EndRow() int { return w.Row + w.Rows }

// Grow returns the window made wider by n cells on every side.
func (w Window) Grow(n int) Window {
	return Window{w.Col - n, w.Row - n, w.Cols + 2*n, w.Rows + 2*n}
}

// Clip returns the part of w that lies in v; empty windows come out as zero.
func (w Window) Clip(v Window) Window {
	col, row := max(w.Col, v.Col), max(w.Row, v.Row)
	out := Window{col, row, min(w.EndCol(), v.EndCol()) - col, min(w.EndRow(), v.EndRow()) - row}
	if out.Empty() {
		return Window{}
	}
	return out
}

// Union returns the smallest window that holds both.
func (w Window) Union(v Window) Window {
	if w.Empty() {
		return v
	}
	if v.Empty() {
		return w
	}
	col, row := min(w.Col, v.Col), min(w.Row, v.Row)
	return Window{col, row, max(w.EndCol(), v.EndCol()) - col, max(w.EndRow(), v.EndRow()) - row}
}

// Holds reports whether every cell of v lies in w.
func (w Window) Holds(v Window) bool {
	return v.Empty() || v.Clip(w) == v
}

// Index returns the place of a cell, given by grid column and row, in
// row-major data of the window. The cell must lie in the window.
func (w Window) Index(col, row int) int { return (row-w.Row)*w.Cols + col - w.Col }
