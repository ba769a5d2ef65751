// Package nearby looks at the ground around each cell: the share of some
// classes within a radius, the mean of a quantity within a radius and how far
// a cell lies above that of the others, the exact
// distance to the nearest cell of some classes or to their edge.
//
// Distances are between cell centres, in metres, on a plane grid whose cells
// may be oblong. Every kernel fills a tile from one that is wider by the
// kernel's reach on each side, and keeps its buffers for the next tile: one
// kernel a worker. Missing cells: see each kernel.
//
// Results do not depend on how a grid is cut into tiles: counts and sums are
// whole numbers.
package nearby

import "math"

// Disc is the set of cells whose centres lie within a radius of a cell's
// centre. The zero Disc is the cell alone.
type Disc struct {
	rx, ry int   // farthest column and row
	tall   []int // for column offsets -rx..rx, the farthest row
	cells  int
}

// rim is by how much, relatively, a centre may lie beyond the radius and
// still count, so that rounding never leaves out a centre that is on it.
const rim = 1e-9

// NewDisc returns the disc of a radius in metres on cells of dx × dy metres.
func NewDisc(dx, dy, radius float64) Disc {
	r := max(radius, 0) * (1 + rim)
	d := Disc{rx: int(r / dx), ry: int(r / dy)}
	d.tall = make([]int, 2*d.rx+1)
	for i := -d.rx; i <= d.rx; i++ {
		x := float64(i) * dx
		d.tall[i+d.rx] = int(math.Sqrt(max(float64(r*r)-float64(x*x), 0)) / dy)
		d.cells += 2*d.tall[i+d.rx] + 1
	}
	return d
}

// Reach returns how many cells beyond a tile the disc goes.
func (d Disc) Reach() int { return max(d.rx, d.ry) }

// Cells returns the number of cells of the disc.
func (d Disc) Cells() int { return max(d.cells, 1) }

// plain returns the disc with its one cell spelt out.
func (d Disc) plain() Disc {
	if d.tall == nil {
		return Disc{tall: []int{0}, cells: 1}
	}
	return d
}

// all appends the places of the disc's cells around the first cell of a tile,
// in a source that begins Reach rows and columns before it and has stride
// places a row.
func (d Disc) all(places []int, stride int) []int {
	reach := d.Reach()
	for i, tall := range d.tall {
		for row := reach - tall; row <= reach+tall; row++ {
			places = append(places, row*stride+reach-d.rx+i)
		}
	}
	return places
}

// edges appends the places of the cells that the disc around the first cell
// of tile row at has more than the one above it, and of those it has less:
// one each a column.
func (d Disc) edges(gains, losses []int, at, stride int) (more, less []int) {
	reach := d.Reach()
	for i, tall := range d.tall {
		col := reach - d.rx + i
		gains = append(gains, (at+reach+tall)*stride+col)
		losses = append(losses, (at+reach-1-tall)*stride+col)
	}
	return gains, losses
}
