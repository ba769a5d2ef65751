package crs

import (
	"math"

	"likelyground/raster"
)

// extent is the range of two components over some points.
type extent struct{ low, high [2]float64 }

func newExtent() extent {
	up, down := math.Inf(1), math.Inf(-1)
	return extent{[2]float64{up, up}, [2]float64{down, down}}
}

func (e *extent) add(u, v float64) {
	if finite(u, v) {
		e.low[0], e.high[0] = min(e.low[0], u), max(e.high[0], u)
		e.low[1], e.high[1] = min(e.low[1], v), max(e.high[1], v)
	}
}

func (e *extent) empty() bool { return e.low[0] > e.high[0] }

// extentOf returns a range that holds the field at every point of a window,
// the cells' rims included.
func (m *meshReader) extentOf(w raster.Window) extent {
	e := newExtent()
	if w.Empty() {
		return e
	}
	m.hold(w)
	for j := range m.rows {
		for i := range m.cols {
			area := raster.Window{Col: (m.col + i) * blockCells, Row: (m.row + j) * blockCells, Cols: blockCells, Rows: blockCells}
			part := w.Clip(area)
			if part.Empty() {
				continue
			}
			part.Col, part.Row = part.Col-area.Col, part.Row-area.Row
			m.blocks[j*m.cols+i].extend(&e, part)
		}
	}
	return e
}

// extend adds a part of the block, counted from its corner. Bilinear pieces
// have their extremes at their corners.
func (b *block) extend(e *extent, w raster.Window) {
	if b.void {
		return
	}
	if b.step == 0 {
		b.extendComputed(e, w)
		return
	}
	for r := w.Row; ; r = min((r/b.step+1)*b.step, w.EndRow()) {
		for c := w.Col; ; c = min((c/b.step+1)*b.step, w.EndCol()) {
			e.add(b.corner(b.u, c, r), b.corner(b.v, c, r))
			if c == w.EndCol() {
				break
			}
		}
		if r == w.EndRow() {
			break
		}
	}
}

func (b *block) extendComputed(e *extent, w raster.Window) {
	own := newExtent()
	for r := w.Row; r <= w.EndRow(); r++ {
		for c := w.Col; c <= w.EndCol(); c++ {
			own.add(b.u[r*exactNodes+c], b.v[r*exactNodes+c])
		}
	}
	if own.empty() {
		return
	}
	e.add(own.low[0]-b.margin[0], own.low[1]-b.margin[1])
	e.add(own.high[0]+b.margin[0], own.high[1]+b.margin[1])
}

// corner returns one component at the north-western corner of a cell.
func (b *block) corner(nodes []float64, col, row int) float64 {
	last := blockCells/b.step - 1
	i, j := min(col/b.step, last), min(row/b.step, last)
	s, t := float64(col-i*b.step)/float64(b.step), float64(row-j*b.step)/float64(b.step)
	at := j*b.stride + i
	left := nodes[at] + float64(t*(nodes[at+b.stride]-nodes[at]))
	right := nodes[at+1] + float64(t*(nodes[at+b.stride+1]-nodes[at+1]))
	return left + float64(s*(right-left))
}
