package ellerdown

import (
	"math"

	"likelyground/raster"
)

// Working a place out takes hundreds of nanoseconds, so the fine maps work
// out the nodes of one lattice, nodeSide apart in EPSG:25831 and the same for
// every map and tile, and take what lies between from those around.

// nodeSide is in metres; a whole number of cells of the ground map.
const nodeSide = 40

// cellSide is the side of a cell of the ground map in metres.
const cellSide = 10

// lattice is a window of nodes: node (i, j) lies at i·nodeSide,
// -j·nodeSide, so that rows go south.
type lattice struct {
	raster.Window
	heights []float64
	spots   []spot
}

// cover sets the lattice to the nodes round the box, margin nodes more on
// every side, without working them out.
func (l *lattice) cover(west, south, east, north float64, margin int) {
	col, row := floorInt(west/nodeSide), floorInt(-north/nodeSide)
	w := raster.Window{Col: col, Row: row, Cols: floorInt(east/nodeSide) + 2 - col, Rows: floorInt(-south/nodeSide) + 2 - row}
	l.Window = w.Grow(margin)
}

// place is where a node lies.
func (l *lattice) place(k int) (x, y float64) {
	return float64(l.Col+k%l.Cols) * nodeSide, -float64(l.Row+k/l.Cols) * nodeSide
}

// workHeights works out the height of every node.
func (l *lattice) workHeights() {
	l.heights = sized(l.heights, l.Size())
	for k := range l.heights {
		l.heights[k] = heightAt(l.place(k))
	}
}

// workSpots works out all of every node.
func (l *lattice) workSpots() {
	l.spots = sized(l.spots, l.Size())
	for k := range l.spots {
		l.spots[k] = spotAt(l.place(k))
	}
}

// between gives the spot at a place, every quantity in proportion between
// the four nodes round it and the rock of the nearest, and the tangent of
// the slope, from the rise between those nodes.
func (l *lattice) between(x, y float64) (s spot, slope float64) {
	u, v := x/nodeSide, -y/nodeSide
	i, j := floorInt(u), floorInt(v)
	u -= float64(i)
	v -= float64(j)
	k := l.Index(i, j)
	a, b, c, d := &l.spots[k], &l.spots[k+1], &l.spots[k+l.Cols], &l.spots[k+l.Cols+1]
	mid := func(p, q, r, s float64) float64 { return blend(blend(p, q, u), blend(r, s, u), v) }
	s.x, s.y = mid(a.x, b.x, c.x, d.x), mid(a.y, b.y, c.y, d.y)
	s.valley = mid(a.valley, b.valley, c.valley, d.valley)
	s.gill = mid(a.gill, b.gill, c.gill, d.gill)
	s.height = mid(a.height, b.height, c.height, d.height)
	s.lake, s.town = mid(a.lake, b.lake, c.lake, d.lake), mid(a.town, b.town, c.town, d.town)
	s.wood, s.heath = mid(a.wood, b.wood, c.wood, d.wood), mid(a.heath, b.heath, c.heath, d.heath)
	near := [4]*spot{a, b, c, d}
	s.rock = near[nearest(u)+2*nearest(v)].rock
	return s, rise(a.height, b.height, c.height, d.height)
}

func nearest(t float64) int {
	if t < 0.5 {
		return 0
	}
	return 1
}

// rise is the tangent of the slope over a square of four nodes.
func rise(nw, ne, sw, se float64) float64 {
	dx := (ne + se - nw - sw) / (2 * nodeSide)
	dy := (nw + ne - sw - se) / (2 * nodeSide)
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

func floorInt(v float64) int { return int(math.Floor(v)) }

// sized returns a slice of n, the old one where it is long enough.
func sized[T any](old []T, n int) []T {
	if cap(old) < n {
		return make([]T, n)
	}
	return old[:n]
}
