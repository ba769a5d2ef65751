package maps

import (
	"cmp"
	"math"
	"slices"

	"likelyground/raster"
	"likelyground/vector"
)

// swath gathers the cells whose centre lies within some metres of points and
// lines: exactly, from the distance to each point and each straight piece,
// without an outline in between. A centre within raster.Snap of a cell of the
// rim lies on it, and the rim is covered. Its buffer is used again.
type swath struct {
	within raster.Window
	dx, dy float64 // metres a cell
	spans  []rowSpan
	whole  int // spans at the beginning that are sorted and apart
}

// rowSpan is a run of cells in a row, to exclusive.
type rowSpan struct{ row, from, to int32 }

func (s *swath) begin(within raster.Window) {
	s.within, s.spans, s.whole = within, s.spans[:0], 0
}

// disc adds the ground around a place in cells.
func (s *swath) disc(at vector.Point, radius float64) { s.piece(at, at, radius) }

// piece adds the ground along a straight piece between two places in cells.
func (s *swath) piece(a, b vector.Point, radius float64) {
	reach := radius / s.dy
	top, bottom := min(a[1], b[1])-reach, max(a[1], b[1])+reach
	first := max(firstCentre(top), s.within.Row)
	end := min(lastCentre(bottom)+1, s.within.EndRow())
	if first >= end {
		return
	}
	k := capsule{
		a: vector.Point{a[0] * s.dx, a[1] * s.dy}, b: vector.Point{b[0] * s.dx, b[1] * s.dy},
		radius: radius, slack: raster.Snap * s.dy,
	}
	for row := first; row < end; row++ {
		west, east, ok := k.cut((float64(row) + 0.5) * s.dy)
		if !ok {
			continue
		}
		from, to := max(firstCentre(west/s.dx), s.within.Col), min(lastCentre(east/s.dx)+1, s.within.EndCol())
		if from < to {
			s.spans = append(s.spans, rowSpan{int32(row), int32(from), int32(to)})
		}
	}
	if len(s.spans) > 2*s.whole+1<<16 { // a long line: hold no more than twice what it covers
		s.join()
	}
}

// firstCentre is the first cell whose centre lies at a position in cells, or
// beyond it; a centre within raster.Snap of it lies on it.
func firstCentre(p float64) int { return int(math.Ceil(bounded(p) - 0.5 - raster.Snap)) }

// lastCentre is the last cell whose centre does not lie beyond a position.
func lastCentre(p float64) int { return int(math.Floor(bounded(p) - 0.5 + raster.Snap)) }

func bounded(p float64) float64 { return min(max(p, -1<<30), 1<<30) }

// join sorts the spans and makes one of those that touch or overlap.
func (s *swath) join() {
	slices.SortFunc(s.spans, func(a, b rowSpan) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.from, b.from)) })
	out := s.spans[:0]
	for _, x := range s.spans {
		if n := len(out); n > 0 && out[n-1].row == x.row && x.from <= out[n-1].to {
			out[n-1].to = max(out[n-1].to, x.to)
			continue
		}
		out = append(out, x)
	}
	s.spans, s.whole = out, len(out)
}

// end hands the spans to runs and returns the window that holds them.
func (s *swath) end(to *rowRuns) raster.Window {
	s.join()
	to.begin(s.within)
	for _, x := range s.spans {
		to.mark(int(x.row), int(x.from))
		to.mark(int(x.row), int(x.to))
	}
	return to.end()
}

// capsule is all ground within a radius of a straight piece, in metres.
type capsule struct {
	a, b          vector.Point
	radius, slack float64
}

// cut returns from where to where the line y lies in the capsule. As the
// capsule is convex, its two discs and the band between them give one span.
func (k *capsule) cut(y float64) (west, east float64, ok bool) {
	west, east = math.Inf(1), math.Inf(-1)
	for _, at := range [2]vector.Point{k.a, k.b} {
		if half, ok := k.half(y - at[1]); ok {
			west, east = min(west, at[0]-half), max(east, at[0]+half)
		}
	}
	if w, e := k.band(y); w <= e {
		west, east = min(west, w), max(east, e)
	}
	return west, east, west <= east
}

// half is half the chord of the disc at a height above its middle.
func (k *capsule) half(up float64) (float64, bool) {
	up = math.Abs(up)
	if up > k.radius+k.slack {
		return 0, false
	}
	return math.Sqrt(max(0, (k.radius-up)*(k.radius+up))), true
}

// band is the span of the line y in the band that runs along the piece,
// between the ends; the first is greater than the second where there is none.
func (k *capsule) band(y float64) (west, east float64) {
	dx, dy := k.b[0]-k.a[0], k.b[1]-k.a[1]
	long := math.Hypot(dx, dy)
	if long == 0 {
		return 1, -1
	}
	ux, uy, up := dx/long, dy/long, y-k.a[1]
	west, east = math.Inf(-1), math.Inf(1)
	// along the piece from 0 to its length, and across it within the radius
	west, east = narrow(west, east, ux, float64(up*uy), 0, long)
	west, east = narrow(west, east, -uy, float64(up*ux), -k.radius, k.radius)
	return west + k.a[0], east + k.a[0]
}

// narrow keeps, of x from west to east, where low <= slope*x + at <= high.
func narrow(west, east, slope, at, low, high float64) (float64, float64) {
	if slope == 0 {
		if at < low || at > high {
			return 1, -1
		}
		return west, east
	}
	from, to := (low-at)/slope, (high-at)/slope
	if from > to {
		from, to = to, from
	}
	return max(west, from), min(east, to)
}

// around lays the ground around a feature's points and along its lines; it
// tells whether a cell of the grid is among it.
func (m *importer) around(f *vector.Feature, code int32) (bool, error) {
	if len(f.Points)+len(f.Lines) == 0 {
		return false, nil
	}
	m.sawPoints, m.sawLines = m.sawPoints || len(f.Points) > 0, m.sawLines || len(f.Lines) > 0
	m.swath.begin(m.to.served)
	for i := range f.Points {
		if err := m.layLine(vector.Line(f.Points[i:i+1]), m.to.spec.Radius); err != nil {
			return false, err
		}
	}
	for _, line := range f.Lines {
		if m.clip == nil {
			if err := m.layLine(line, m.to.spec.Width/2); err != nil {
				return false, err
			}
			continue
		}
		for _, part := range m.clip.cutLine(line) {
			if err := m.layLine(part, m.to.spec.Width/2); err != nil {
				return false, err
			}
		}
	}
	w := m.swath.end(&m.rows)
	if w.Empty() {
		return false, nil
	}
	return m.rows.cover(w.Row, m.to.grid.Window()), m.to.runs.put(&m.rows, w, code)
}

// layLine adds a line, or a point, to the swath.
func (m *importer) layLine(line vector.Line, radius float64) error {
	if len(line) == 1 && m.clip != nil && !m.clip.holds(vector.Ring(line)) {
		return nil
	}
	at, err := m.way.carry(vector.Ring(line))
	if err != nil {
		return err
	}
	m.swath.disc(at[0], radius)
	for i := 1; i < len(at); i++ {
		m.swath.piece(at[i-1], at[i], radius)
	}
	return nil
}

// cutLine returns the parts of a line inside the box, which may be none. The
// result lasts until the next call.
func (c *clipper) cutLine(line vector.Line) []vector.Line {
	c.parts = c.parts[:0]
	if c.holds(vector.Ring(line)) {
		return append(c.parts, line)
	}
	var part vector.Line
	for i := 1; i < len(line); i++ {
		a, b, ok := c.cutPiece(line[i-1], line[i])
		switch n := len(part); {
		case !ok:
			continue
		case n > 0 && part[n-1] == a:
			part = append(part, b)
			continue
		case n > 0:
			c.parts = append(c.parts, part)
		}
		part = vector.Line{a, b}
	}
	if len(part) > 0 {
		c.parts = append(c.parts, part)
	}
	return c.parts
}

// cutPiece returns the part of a straight piece inside the box; false where
// there is none.
func (c *clipper) cutPiece(a, b vector.Point) (vector.Point, vector.Point, bool) {
	for axis := range 2 {
		for _, side := range []struct {
			limit float64
			out   func(p vector.Point) bool
		}{
			{c.low[axis], func(p vector.Point) bool { return p[axis] < c.low[axis] }},
			{c.high[axis], func(p vector.Point) bool { return p[axis] > c.high[axis] }},
		} {
			switch aOut, bOut := side.out(a), side.out(b); {
			case aOut && bOut:
				return a, b, false
			case aOut:
				a = meet(a, b, axis, side.limit)
			case bOut:
				b = meet(a, b, axis, side.limit)
			}
		}
	}
	return a, b, true
}
