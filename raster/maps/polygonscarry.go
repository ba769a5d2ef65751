package maps

import (
	"errors"
	"math"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// chordError is how far, in cells, a chord may lie off the edge it stands for:
// half of what a position may be off.
const chordError = 2.5e-4

var errNowhere = errors.New("a place cannot be transformed")

// carrier takes rings from a CRS to cells of a grid, position (0, 0) being
// its corner. Edges are straight in the CRS of the ring and are broken where
// they bend on the grid. An edge gives the same points whichever way it is
// drawn, so that neighbours go on sharing it. It is not for two goroutines.
type carrier struct {
	grid raster.Grid
	t    *crs.Transformer // nil where the CRSs are the same
	safe float64          // square of the length up to which no edge bends, in the source's units

	x, y []float64
	line []vector.Point
	bits [6]float64
}

func newCarrier(op crs.Operation, g raster.Grid) (*carrier, error) {
	c := &carrier{grid: g}
	if op.Identity {
		return c, nil
	}
	t, err := op.Open()
	if err != nil {
		return nil, err
	}
	c.t = t
	return c, nil
}

func (c *carrier) close() {
	if c.t != nil {
		c.t.Close()
	}
}

// cell is a place of the grid's CRS in cells.
func (c *carrier) cell(x, y float64) vector.Point {
	col, row := c.grid.Cell(x, y)
	return vector.Point{col, row}
}

// carry returns the ring in cells; the result lasts until the next call.
func (c *carrier) carry(ring vector.Ring) ([]vector.Point, error) {
	c.line = c.line[:0]
	if len(ring) == 0 {
		return nil, nil
	}
	c.x, c.y = c.x[:0], c.y[:0]
	for _, p := range ring {
		c.x, c.y = append(c.x, p[0]), append(c.y, p[1])
	}
	if c.t != nil {
		c.t.Forward(c.x, c.y)
	}
	for i := range ring {
		if math.IsInf(c.x[i], 0) {
			return nil, errNowhere
		}
		at := c.cell(c.x[i], c.y[i])
		if i > 0 && c.t != nil {
			c.edge(ring[i-1], ring[i], c.line[len(c.line)-1], at)
		}
		c.line = append(c.line, at)
	}
	return c.line, nil
}

// edge appends the points between the ends a and b of an edge, which lie at
// p and q on the grid.
func (c *carrier) edge(a, b, p, q vector.Point) {
	if squared(a, b) <= c.safe {
		return
	}
	from := len(c.line)
	if a[0] > b[0] || a[0] == b[0] && a[1] > b[1] {
		c.bend(b, a, q, p, 0)
		reverse(c.line[from:])
		return
	}
	c.bend(a, b, p, q, 0)
}

// bend halves the edge until chords are near enough to it. A bend is looked
// for at the quarters too, where the middle of an S would show none.
func (c *carrier) bend(a, b, p, q vector.Point, depth int) {
	const deepest = 24
	m := middle(a, b)
	inner := [3]vector.Point{middle(a, m), m, middle(m, b)}
	x, y := c.bits[:3], c.bits[3:]
	for i, at := range inner {
		x[i], y[i] = at[0], at[1]
	}
	c.t.Forward(x, y)
	near := true
	for i := range x {
		near = near && offChord(c.cell(x[i], y[i]), p, q) <= chordError
	}
	if near || depth == deepest || math.IsInf(x[1], 0) {
		return
	}
	at := c.cell(x[1], y[1])
	c.halve(a, m, p, at, depth)
	c.line = append(c.line, at)
	c.halve(m, b, at, q, depth)
}

func (c *carrier) halve(a, b, p, q vector.Point, depth int) {
	if squared(a, b) > c.safe {
		c.bend(a, b, p, q, depth+1)
	}
}

func middle(a, b vector.Point) vector.Point {
	return vector.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
}

func squared(a, b vector.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	return float64(dx*dx) + float64(dy*dy)
}

// offChord is the distance of a point from the line through p and q.
func offChord(at, p, q vector.Point) float64 {
	dx, dy := q[0]-p[0], q[1]-p[1]
	ax, ay := at[0]-p[0], at[1]-p[1]
	long := math.Hypot(dx, dy)
	if long == 0 {
		return math.Hypot(ax, ay)
	}
	return math.Abs(float64(dx*ay)-float64(dy*ax)) / long
}

func reverse(line []vector.Point) {
	for i, j := 0, len(line)-1; i < j; i, j = i+1, j-1 {
		line[i], line[j] = line[j], line[i]
	}
}

// clipTo returns the box, in the source's CRS, that holds every cell of a
// window; nil where none of it has a place there.
func (c *carrier) clipTo(w raster.Window) *clipper {
	const n = 32
	var x, y []float64
	for j := range n + 1 {
		for i := range n + 1 {
			px, py := c.grid.Position(float64(w.Col)+float64(w.Cols)*float64(i)/n, float64(w.Row)+float64(w.Rows)*float64(j)/n)
			x, y = append(x, px), append(y, py)
		}
	}
	c.t.Inverse(x, y)
	box := clipper{low: [2]float64{math.Inf(1), math.Inf(1)}, high: [2]float64{math.Inf(-1), math.Inf(-1)}}
	for i := range x {
		if !math.IsInf(x[i], 0) {
			box.low = [2]float64{min(box.low[0], x[i]), min(box.low[1], y[i])}
			box.high = [2]float64{max(box.high[0], x[i]), max(box.high[1], y[i])}
		}
	}
	if box.low[0] > box.high[0] {
		return nil
	}
	for axis := range 2 { // what lies between the points looked at
		slack := (box.high[axis] - box.low[axis]) / n
		box.low[axis] -= slack
		box.high[axis] += slack
	}
	return &box
}

// survey finds the length up to which an edge inside the box cannot bend: it
// looks how far short edges bend all over the box, in four directions, and
// allows for four times as much. The bend grows with the square of the length.
func (c *carrier) survey(box *clipper) {
	const n = 9
	dx, dy := (box.high[0]-box.low[0])/n, (box.high[1]-box.low[1])/n
	worst := 0.0
	for i := range n * n {
		at := vector.Point{box.low[0] + (float64(i%n)+0.5)*dx, box.low[1] + (float64(i/n)+0.5)*dy}
		for _, to := range []vector.Point{{dx / 8, 0}, {0, dy / 8}, {dx / 8, dy / 8}, {dx / 8, -dy / 8}} {
			worst = max(worst, c.bendOf(at, to))
		}
	}
	c.safe = chordError / (4 * worst)
}

// bendOf returns how far an edge from a point, of the given extent, bends,
// by the square of its length; 0 where that cannot be told.
func (c *carrier) bendOf(at, to vector.Point) float64 {
	x := []float64{at[0], at[0] + to[0]/2, at[0] + to[0]}
	y := []float64{at[1], at[1] + to[1]/2, at[1] + to[1]}
	c.t.Forward(x, y)
	off := offChord(c.cell(x[1], y[1]), c.cell(x[0], y[0]), c.cell(x[2], y[2]))
	if math.IsNaN(off) || math.IsInf(off, 0) {
		return 0
	}
	return off / squared(vector.Point{}, to)
}
