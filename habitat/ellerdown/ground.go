package ellerdown

import (
	"math"

	"likelyground/raster"
)

// The ground map: heights on the run's own grid.

// perNode is the number of cells from node to node.
const perNode = nodeSide / cellSide

// bend holds the cubic B-spline's weights for the cells between two nodes,
// whose centres lie 1/8, 3/8, 5/8, 7/8 of the way: smooth ground without
// the creases that straight lines between nodes would leave in its slopes.
var bend = func() (out [perNode][4]float64) {
	for k := range out {
		t := (float64(k) + 0.5) / perNode
		t2 := float64(t * t)
		t3 := float64(t2 * t)
		u := 1 - t
		out[k] = [4]float64{
			float64(float64(u*u)*u) / 6,
			(float64(3*t3) - float64(6*t2) + 4) / 6,
			(float64(3*t2) - float64(3*t3) + float64(3*t) + 1) / 6,
			t3 / 6,
		}
	}
	return out
}()

// groundMap draws heights.
type groundMap struct {
	grid  raster.Grid
	nodes lattice
	line  []float64 // heights along one row of cells, node by node
}

// draw fills a tile of the grid. Its corner must lie on a node.
func (m *groundMap) draw(t raster.Tile) error {
	west, north := m.grid.Position(float64(t.Col), float64(t.Row))
	east, south := m.grid.Position(float64(t.EndCol()), float64(t.EndRow()))
	m.nodes.cover(west, south, east, north, 1)
	m.nodes.workHeights()
	m.line = sized(m.line, m.nodes.Cols)
	for row := range t.Rows {
		m.bendRows(row)
		m.fillRow(t.Values[row*t.Cols:(row+1)*t.Cols], t.Col, t.Row+row)
	}
	return nil
}

// bendRows sets line for a row of cells, counted from the tile's first.
func (m *groundMap) bendRows(row int) {
	w := &bend[row%perNode]
	n := m.nodes.Cols
	at := row / perNode * n
	a, b, c, d := m.nodes.heights[at:at+n], m.nodes.heights[at+n:at+2*n], m.nodes.heights[at+2*n:at+3*n], m.nodes.heights[at+3*n:at+4*n]
	for k := range m.line {
		m.line[k] = float64(w[0]*a[k]) + float64(w[1]*b[k]) + float64(w[2]*c[k]) + float64(w[3]*d[k])
	}
}

// fillRow writes the heights of one row of cells, rough by a few
// centimetres and given to 1/32 m, with the survey's gaps.
func (m *groundMap) fillRow(out []float32, col, row int) {
	line := m.line
	x, y := m.grid.Position(float64(col), float64(row))
	west, north := int32(x/cellSide), int32(y/cellSide) // numbers of their own, the same in every country
	for i := range out {
		w := &bend[i%perNode]
		k := i / perNode
		h := float64(w[0]*line[k]) + float64(w[1]*line[k+1]) + float64(w[2]*line[k+2]) + float64(w[3]*line[k+3])
		rough := (float64(scramble(west+int32(i), north, 81)>>29) - 3.5) / 96
		out[i] = float32(math.Floor(float64((h+rough)*32)+0.5) / 32)
	}
	m.gaps(out, col, row)
}

// gaps blanks what the survey did not reach: the north-eastern corner, and
// here and there a patch, looked for every 8 cells.
func (m *groundMap) gaps(out []float32, col, row int) {
	corner := m.grid.Cols + row - min(m.grid.Cols, m.grid.Rows)/12
	for i := max(corner-col, 0); i < len(out); i++ {
		out[i] = raster.Missing
	}
	_, y := m.grid.Position(0, float64(row)+0.5)
	for i := 0; i < len(out); i += 8 {
		x, _ := m.grid.Position(float64(col+i)+4, 0)
		if gapGround.at(x, y) > 0.74 {
			for k := i; k < min(i+8, len(out)); k++ {
				out[k] = raster.Missing
			}
		}
	}
}
