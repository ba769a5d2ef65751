package water

import "likelyground/raster"

// lattice cuts the ground into square tiles whose borders lie on multiples of
// the tile size, and numbers what lies along the tiles' borders: the edge
// cells. Tables over all edge cells are what a whole stage keeps in memory.
type lattice struct {
	ground     raster.Window
	size       int
	col, row   int   // first tile column and row, in tiles
	cols, rows int   // tiles
	first      []int // number of a tile's first edge cell; one more than tiles
}

func newLattice(ground raster.Window, size int) *lattice {
	l := &lattice{ground: ground, size: size, col: floorDiv(ground.Col, size), row: floorDiv(ground.Row, size)}
	l.cols = floorDiv(ground.EndCol()-1, size) - l.col + 1
	l.rows = floorDiv(ground.EndRow()-1, size) - l.row + 1
	l.first = make([]int, l.tiles()+1)
	for t := range l.tiles() {
		l.first[t+1] = l.first[t] + edgeOf(l.window(t)).len()
	}
	return l
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func (l *lattice) tiles() int { return l.cols * l.rows }

// edges returns how many edge cells there are.
func (l *lattice) edges() int { return l.first[l.tiles()] }

// window returns the cells of a tile.
func (l *lattice) window(t int) raster.Window {
	c, r := l.col+t%l.cols, l.row+t/l.cols
	return raster.Window{Col: c * l.size, Row: r * l.size, Cols: l.size, Rows: l.size}.Clip(l.ground)
}

// at returns the tile that holds a cell of the ground.
func (l *lattice) at(col, row int) int {
	return (floorDiv(row, l.size)-l.row)*l.cols + floorDiv(col, l.size) - l.col
}

// holds reports whether a cell belongs to the ground.
func (l *lattice) holds(col, row int) bool {
	return col >= l.ground.Col && row >= l.ground.Row && col < l.ground.EndCol() && row < l.ground.EndRow()
}

// number returns the number of an edge cell among those of all tiles, and
// its tile; both are -1 for a cell beyond the ground.
func (l *lattice) number(col, row int) (cell, tile int) {
	if !l.holds(col, row) {
		return -1, -1
	}
	t := l.at(col, row)
	w := l.window(t)
	return l.first[t] + edgeOf(w).at(col-w.Col, row-w.Row), t
}

// edge numbers the cells along the border of a tile: the top row, the bottom
// row, then the left and the right column without their ends.
type edge struct{ w, h int }

func edgeOf(w raster.Window) edge { return edge{w.Cols, w.Rows} }

func (e edge) len() int {
	switch {
	case e.h == 1:
		return e.w
	case e.w == 1:
		return e.h
	}
	return 2 * (e.w + e.h - 2)
}

// at returns the number of the edge cell in column x and row y of the tile.
func (e edge) at(x, y int) int {
	switch {
	case y == 0:
		return x
	case y == e.h-1:
		return e.w + x
	case x == 0:
		return 2*e.w + y - 1
	}
	return 2*e.w + e.h - 2 + y - 1
}

// cell is the inverse of at.
func (e edge) cell(i int) (x, y int) {
	switch {
	case i < e.w:
		return i, 0
	case i < 2*e.w:
		return i - e.w, e.h - 1
	case i < 2*e.w+e.h-2:
		return 0, i - 2*e.w + 1
	}
	return e.w - 1, i - 2*e.w - (e.h - 2) + 1
}

// padded is the layout of a tile with one cell more on each side.
type padded struct{ w, h int }

func pad(w raster.Window) padded { return padded{w.Cols + 2, w.Rows + 2} }

func (p padded) len() int { return p.w * p.h }

// at returns the place of column x and row y of the tile, -1 to its size.
func (p padded) at(x, y int) int { return (y+1)*p.w + x + 1 }

// spread copies the rows of a tile into the padded layout.
func spread[T any](p padded, into, rows []T) {
	for y := range p.h - 2 {
		copy(into[p.at(0, y):p.at(p.w-2, y)], rows[y*(p.w-2):])
	}
}

// compact is the inverse of spread.
func compact[T any](p padded, into, rows []T) {
	for y := range p.h - 2 {
		copy(into[y*(p.w-2):], rows[p.at(0, y):p.at(p.w-2, y)])
	}
}

// neighbours are the steps to the eight neighbours. Their order settles ties
// everywhere: sides before corners, north first.
var neighbours = [8]struct{ x, y int }{{0, -1}, {-1, 0}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}}

// opposite returns the direction back.
func opposite(k int) int {
	if k < 4 {
		return 3 - k
	}
	return 11 - k
}

// steps returns the neighbours as distances in the padded layout.
func (p padded) steps() (out [8]int) {
	for k, n := range neighbours {
		out[k] = n.y*p.w + n.x
	}
	return out
}

// ringCell is a cell around a tile: its place in the padded layout, and its
// number among the edge cells, -1 beyond the ground.
type ringCell struct{ pad, cell, tile int }

// ring appends the cells around a tile, corners included.
func (l *lattice) ring(out []ringCell, t int) []ringCell {
	w := l.window(t)
	p := pad(w)
	see := func(x, y int) {
		cell, tile := l.number(w.Col+x, w.Row+y)
		out = append(out, ringCell{p.at(x, y), cell, tile})
	}
	for x := -1; x <= w.Cols; x++ {
		see(x, -1)
		see(x, w.Rows)
	}
	for y := range w.Rows {
		see(-1, y)
		see(w.Cols, y)
	}
	return out
}

// edgePads appends the places in the padded layout of a tile's edge cells, in
// the order of their numbers.
func (l *lattice) edgePads(out []int, t int) []int {
	w := l.window(t)
	e, p := edgeOf(w), pad(w)
	for i := range e.len() {
		out = append(out, p.at(e.cell(i)))
	}
	return out
}

// crossings calls f once for each pair of neighbouring cells that lie in
// different tiles, a in tile t and b in a later one.
func (l *lattice) crossings(t int, f func(a, b, later int)) {
	w := l.window(t)
	e := edgeOf(w)
	for i := range e.len() {
		x, y := e.cell(i)
		for _, n := range neighbours {
			nx, ny := x+n.x, y+n.y
			if nx >= 0 && ny >= 0 && nx < w.Cols && ny < w.Rows {
				continue
			}
			if b, tile := l.number(w.Col+nx, w.Row+ny); tile > t {
				f(l.first[t]+i, b, tile)
			}
		}
	}
}
