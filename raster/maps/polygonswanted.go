package maps

import (
	"fmt"
	"math"

	"likelyground/vector"
)

// mostReach is the largest radius, or half width, in metres: farther out
// polygons are not kept either.
const mostReach = 100e3

// readySwath sets the size of a cell in metres.
func (m *importer) readySwath(metresPerUnit float64) error {
	s := &m.to.spec
	reach := max(s.Radius, s.Width/2)
	if reach == 0 {
		return nil
	}
	if metresPerUnit == 0 {
		return &Problem{Map: s.Name, File: s.File, What: "the grid is in degrees, and a radius or a width is in metres", Fix: "choose a projected grid"}
	}
	if reach > mostReach {
		return &Problem{Map: s.Name, File: s.File, What: fmt.Sprintf("its points or lines would reach %g km around", reach/1000), Fix: "choose a radius up to 100 km, a width up to 200 km"}
	}
	m.swath.dx, m.swath.dy = m.to.grid.DX*metresPerUnit, m.to.grid.DY*metresPerUnit
	return nil
}

// swathCells is how far, in cells, a point or line reaches.
func (m *importer) swathCells() int {
	if m.swath.dx == 0 {
		return 0
	}
	return int(math.Ceil(max(m.to.spec.Radius, m.to.spec.Width/2)/min(m.swath.dx, m.swath.dy))) + 1
}

// nothingThere refuses a layer in which no feature is what is wanted.
func (m *importer) nothingThere(n vector.Counts) error {
	s := &m.to.spec
	out := &vector.Problem{File: s.File, Layer: m.to.facts.Layer}
	switch wanted := n.Features - n.LeftOut; {
	case wanted == 0:
		out.What = fmt.Sprintf("the condition %s is true of none of its %d features", s.Where, n.Features)
		out.Fix = "check the spelling: capitals count, and NULL equals nothing; `look` tells what stands in each field"
	case n.NullGeometry+n.NotPolygons == wanted:
		out.What, out.Fix = "none of its features has a polygon", "name a layer of polygons"
		if n.Points > 0 && !s.AsMask {
			out.Fix = "add `radius: 25 m`, how far around each point its class reaches; or name a layer of polygons"
		} else if n.Lines > 0 && !s.AsMask {
			out.Fix = "add `width: 6 m`, how wide the ground along each line is; or name a layer of polygons"
		}
	case s.Radius > 0 && !m.sawPoints:
		out.What, out.Fix = "none of its features holds a point, which the radius would be of", "take `radius:` out, or name another layer"
	case s.Width > 0 && !m.sawLines:
		out.What, out.Fix = "none of its features holds a line, which the width would be of", "take `width:` out, or name another layer"
	default:
		return nil
	}
	return out
}
