package maps

import (
	"context"
	"math"

	"likelyground/raster"
	"likelyground/vector"
)

// mostCrossings is how many crossings of grid rows one polygon is laid down
// with at a time; each takes 12 bytes. A polygon of more is laid band by band.
const mostCrossings = 1 << 20

// outline gathers the rings of one polygon in cells. Its buffers are used
// again.
type outline struct {
	points []vector.Point
	ends   []int
}

func (o *outline) begin() { o.points, o.ends = o.points[:0], o.ends[:0] }

func (o *outline) add(line []vector.Point) {
	o.points = append(o.points, line...)
	o.ends = append(o.ends, len(o.points))
}

// each calls do for every ring.
func (o *outline) each(do func([]vector.Point)) {
	from := 0
	for _, end := range o.ends {
		do(o.points[from:end])
		from = end
	}
}

// crossings is at least how often the rings cross rows of the window, but for
// twice an edge.
func (o *outline) crossings(w raster.Window) float64 {
	n, top, bottom := 0.0, float64(w.Row), float64(w.EndRow())
	o.each(func(line []vector.Point) {
		for i := 1; i < len(line); i++ {
			low, high := line[i-1][1], line[i][1]
			if low > high {
				low, high = high, low
			}
			if span := math.Min(high, bottom) - math.Max(low, top); span > 0 {
				n += span
			}
		}
	})
	return n
}

// layOutline stores the cells that the gathered outline covers in the rows of
// a window, and tells whether any of them is the grid's. Bands of one polygon
// are stored one after the other and do not overlap.
func (m *importer) layOutline(w raster.Window, code int32) (bool, error) {
	if w.Rows > 1 && m.outline.crossings(w) > mostCrossings {
		upper, lower := w, w
		upper.Rows = w.Rows / 2
		lower.Row, lower.Rows = w.Row+upper.Rows, w.Rows-upper.Rows
		a, err := m.layOutline(upper, code)
		if err != nil {
			return false, err
		}
		b, err := m.layOutline(lower, code)
		return a || b, err
	}
	if c := m.to.spec.Context; c != nil && c.Err() != nil {
		return false, context.Cause(c)
	}
	m.rows.begin(w)
	m.outline.each(m.rows.add)
	covered := m.rows.end()
	if covered.Empty() {
		return false, nil
	}
	return m.rows.cover(covered.Row, m.to.grid.Window()), m.to.runs.put(&m.rows, covered, code)
}
