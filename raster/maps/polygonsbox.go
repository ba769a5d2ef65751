package maps

import (
	"errors"
	"fmt"
	"math"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// boxOutlines is a box of the plan, a polygon with edges straight in its CRS.
type boxOutlines struct {
	text                     string
	west, south, east, north float64
}

// newBoxOutlines checks a box; one in longitude and latitude may cross the
// antimeridian, west being greater than east then.
func newBoxOutlines(west, south, east, north float64, crsText string) (boxOutlines, error) {
	info, err := crs.Describe(crsText)
	if err != nil {
		return boxOutlines{}, err
	}
	if info.Geographic && west > east && west <= 180 {
		east += 360
	}
	if !(west < east && south < north) || math.IsInf(east-west, 0) || math.IsInf(north-south, 0) {
		return boxOutlines{}, &crs.Refusal{What: fmt.Sprintf("the box [%g, %g, %g, %g] holds no ground", west, south, east, north),
			Fix: "write it as [west, south, east, north]"}
	}
	return boxOutlines{crsText, west, south, east, north}, nil
}

func (b boxOutlines) crs() string { return b.text }

func (b boxOutlines) extent() (west, south, east, north float64, err error) {
	return b.west, b.south, b.east, b.north, nil
}

func (b boxOutlines) classField() (vector.Field, error) {
	return vector.Field{}, errors.New("a box has no fields")
}

func (b boxOutlines) field(string) (vector.Field, error) { return b.classField() }

func (b boxOutlines) each(_ []string, do func(*vector.Feature) error) (vector.Counts, error) {
	ring := vector.Ring{{b.west, b.south}, {b.east, b.south}, {b.east, b.north}, {b.west, b.north}, {b.west, b.south}}
	f := vector.Feature{Number: 1, Polygons: []vector.Polygon{{ring}}}
	return vector.Counts{Features: 1}, do(&f)
}

// OpenBox lays a box, given in a CRS of its own, on the grid as a mask: code
// 1 inside, 0 outside. Its edges are straight in that CRS. scratch is a
// folder as in [PolygonSpec]. A [Problem] tells of a box that holds no ground
// or lies outside the grid.
func OpenBox(west, south, east, north float64, crsText string, g raster.Grid, scratch string) (*Polygons, error) {
	p := &Polygons{grid: g, spec: PolygonSpec{Name: "area", AsMask: true, Scratch: scratch}, facts: PolygonFacts{CRSFrom: "plan"}}
	b, err := newBoxOutlines(west, south, east, north, crsText)
	if err != nil {
		return nil, p.spec.about(err)
	}
	if err := p.load(b); err != nil {
		return nil, err
	}
	return p, nil
}

// AreaBounds returns the extent of a layer's polygons in another CRS, their
// edges straight in the layer's own: what is needed to lay out a grid. It is
// right to a ten-millionth of the extent.
func AreaBounds(spec PolygonSpec, gridCRS string) (west, south, east, north float64, err error) {
	if err := Setup(0); err != nil {
		return 0, 0, 0, 0, err
	}
	layer, err := vector.Open(spec.File, spec.Layer, spec.CRS)
	if err != nil {
		return 0, 0, 0, 0, spec.about(err)
	}
	defer layer.Close()
	e, err := extentIn(layerOutlines{layer: layer, spec: &spec}, gridCRS, spec.AllowBallpark)
	if err != nil {
		return 0, 0, 0, 0, spec.about(err)
	}
	return e.low[0], e.low[1], e.high[0], e.high[1], nil
}

// BoxBounds is [AreaBounds] for a box of the plan.
func BoxBounds(west, south, east, north float64, crsText, gridCRS string) (w, s, e, n float64, err error) {
	spec := PolygonSpec{Name: "area"}
	b, err := newBoxOutlines(west, south, east, north, crsText)
	if err != nil {
		return 0, 0, 0, 0, spec.about(err)
	}
	x, err := extentIn(b, gridCRS, false)
	if err != nil {
		return 0, 0, 0, 0, spec.about(err)
	}
	return x.low[0], x.low[1], x.high[0], x.high[1], nil
}

// extentIn measures outlines in another CRS. The chords are as good as on a
// grid of 10 000 cells across.
func extentIn(from outlines, to string, ballpark bool) (clipper, error) {
	w, s, e, n, err := from.extent()
	if err != nil {
		return clipper{}, err
	}
	area, err := crs.UsableBox(from.crs(), w, s, e, n)
	if err != nil {
		return clipper{}, err
	}
	op, err := crs.Choose(from.crs(), to, area, crs.Options{AllowBallpark: ballpark})
	if err != nil {
		return clipper{}, err
	}
	side := max(e-w, n-s)
	if !op.Identity {
		if side, err = sideIn(op, w, s, e, n); err != nil {
			return clipper{}, err
		}
	}
	way, err := newCarrier(op, raster.Grid{DX: side / 1e4, DY: side / 1e4})
	if err != nil {
		return clipper{}, err
	}
	defer way.close()
	if !op.Identity {
		way.survey(&clipper{low: [2]float64{w, s}, high: [2]float64{e, n}})
	}
	return measure(from, way)
}

// sideIn is the longer side of a box after a transformation, roughly.
func sideIn(op crs.Operation, w, s, e, n float64) (float64, error) {
	t, err := op.Open()
	if err != nil {
		return 0, err
	}
	defer t.Close()
	x, y := []float64{w, e, w, e, (w + e) / 2}, []float64{s, s, n, n, (s + n) / 2}
	t.Forward(x, y)
	side := 0.0
	for i := range x {
		for j := range i {
			if d := max(math.Abs(x[i]-x[j]), math.Abs(y[i]-y[j])); d > side && !math.IsInf(d, 0) {
				side = d
			}
		}
	}
	if side == 0 {
		return 0, &crs.Refusal{What: "the area has no place in the grid's coordinate reference system", Fix: "choose a grid whose system covers the area"}
	}
	return side, nil
}

func measure(from outlines, way *carrier) (clipper, error) {
	box := clipper{low: [2]float64{math.Inf(1), math.Inf(1)}, high: [2]float64{math.Inf(-1), math.Inf(-1)}}
	_, err := from.each(nil, func(f *vector.Feature) error {
		for _, polygon := range f.Polygons {
			for _, ring := range polygon {
				line, err := way.carry(ring)
				if err != nil {
					return &crs.Refusal{What: fmt.Sprintf("feature %d of the area has no place in the grid's coordinate reference system", f.Number),
						Fix: "choose a grid whose system covers the area"}
				}
				box.extend(line, way.grid)
			}
		}
		return nil
	})
	if err == nil && box.low[0] > box.high[0] {
		err = &crs.Refusal{What: "the area holds no polygon", Fix: "use a layer of polygons"}
	}
	return box, err
}

// extend makes the box hold a line given in cells of a grid.
func (c *clipper) extend(line []vector.Point, g raster.Grid) {
	for _, p := range line {
		x, y := g.Position(p[0], p[1])
		c.low = [2]float64{min(c.low[0], x), min(c.low[1], y)}
		c.high = [2]float64{max(c.high[0], x), max(c.high[1], y)}
	}
}
