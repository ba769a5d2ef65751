// Package raster holds the nouns of gridded ground: a [Grid] laid over a
// region, a [Window] of its cells, and a [Tile] of values in such a window.
//
// It is plain arithmetic and buffers. It opens no file, knows no ecology and
// calls no foreign library; other rooms bring values in and take them out.
//
// Missing values: a quantity is a float32 and is missing where it is NaN; a
// class is an int32 code and is missing where it is [MissingCode].
package raster

import "math"

// Grid is a north-up lattice of rectangular cells in a projected coordinate
// reference system. Column 0, row 0 is the north-western cell.
type Grid struct {
	CRS    string  // any text PROJ understands: EPSG:25831, WKT, …
	X0, Y0 float64 // outer corner of the north-western cell, in CRS units
	DX, DY float64 // cell width and height in CRS units, both above 0
	Cols   int
	Rows   int
}

// Bounds returns the outer edges of the grid in CRS units.
func (g Grid) Bounds() (west, south, east, north float64) {
	return g.X0, g.Y0 - float64(float64(g.Rows)*g.DY), g.X0 + float64(float64(g.Cols)*g.DX), g.Y0
}

// Position returns the CRS coordinates of a place given in cells: (0, 0) is
// the grid's north-western corner, (0.5, 0.5) the centre of its first cell.
func (g Grid) Position(col, row float64) (x, y float64) {
	return g.X0 + float64(col*g.DX), g.Y0 - float64(row*g.DY)
}

// Cell is the inverse of [Grid.Position].
func (g Grid) Cell(x, y float64) (col, row float64) {
	return (x - g.X0) / g.DX, (g.Y0 - y) / g.DY
}

// Window returns the window of all cells of the grid.
func (g Grid) Window() Window { return Window{Cols: g.Cols, Rows: g.Rows} }

// Cells returns the number of cells of the grid.
func (g Grid) Cells() int64 { return int64(g.Cols) * int64(g.Rows) }

// CropTo returns the part of g's lattice that covers the given box, outward
// to whole cells. The result may reach beyond g. Edges within 1e-6 of a cell
// line count as lying on it.
func (g Grid) CropTo(west, south, east, north float64) Grid {
	c0, r0 := g.Cell(west, north)
	c1, r1 := g.Cell(east, south)
	left, top := math.Floor(c0+Snap), math.Floor(r0+Snap)
	right, bottom := math.Ceil(c1-Snap), math.Ceil(r1-Snap)
	out := g
	out.X0, out.Y0 = g.Position(left, top)
	out.Cols, out.Rows = max(int(right-left), 1), max(int(bottom-top), 1)
	return out
}

// Snap is how near to a cell's edge, in cells, a position counts as lying on
// the edge; it then belongs to the cell right of it and below it.
const Snap = 1e-6

// CellAt returns the index of the cell that holds position p along one axis,
// p counted in cells; edges follow the rule of [Snap].
func CellAt(p float64) int { return int(math.Floor(p + Snap)) }
