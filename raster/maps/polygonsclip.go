package maps

import "likelyground/vector"

// clipper cuts rings off at the edges of a box, side by side (Sutherland and
// Hodgman 1974). What even-odd filling covers inside the box stays the same;
// outside, lines may run along the box's edge.
type clipper struct {
	low, high [2]float64
	ring      [2]vector.Ring // of two successive sides
	parts     []vector.Line
}

// cut returns the part of the ring inside the box, which may be nothing. The
// result lasts until the next call; a ring inside the box is returned itself.
func (c *clipper) cut(ring vector.Ring) vector.Ring {
	if c.holds(ring) {
		return ring
	}
	for side := range 4 {
		into := side % 2
		c.ring[into] = c.cutSide(c.ring[into][:0], ring, side/2, side%2 == 1)
		ring = c.ring[into]
	}
	return ring
}

func (c *clipper) holds(ring vector.Ring) bool {
	for _, p := range ring {
		if p[0] < c.low[0] || p[0] > c.high[0] || p[1] < c.low[1] || p[1] > c.high[1] {
			return false
		}
	}
	return true
}

// cutSide cuts at the low or high side of an axis.
func (c *clipper) cutSide(to, ring vector.Ring, axis int, high bool) vector.Ring {
	limit := c.low[axis]
	if high {
		limit = c.high[axis]
	}
	inside := func(p vector.Point) bool { return p[axis] == limit || p[axis] < limit == high }
	for i, p := range ring {
		if i > 0 && inside(p) != inside(ring[i-1]) {
			to = append(to, meet(ring[i-1], p, axis, limit))
		}
		if inside(p) {
			to = append(to, p)
		}
	}
	if n := len(to); n > 0 && to[0] != to[n-1] {
		to = append(to, to[0])
	}
	return to
}

// meet is where an edge meets a line across an axis, the same point whichever
// way the edge is drawn.
func meet(a, b vector.Point, axis int, limit float64) vector.Point {
	if a[axis] > b[axis] {
		a, b = b, a
	}
	other := 1 - axis
	part := (limit - a[axis]) / (b[axis] - a[axis])
	var p vector.Point
	p[axis] = limit
	p[other] = a[other] + float64(part*(b[other]-a[other]))
	return p
}
