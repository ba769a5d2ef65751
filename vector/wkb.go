package vector

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Codes of well-known binary (OGC 06-103r4, table 7; curves after ISO 13249-3).
const (
	wkbPoint          = 1
	wkbLine           = 2
	wkbPolygon        = 3
	wkbMultiPolygon   = 6
	wkbCollection     = 7
	wkbArcs           = 8
	wkbCompound       = 9
	wkbCurvePolygon   = 10
	wkbMultiSurface   = 12
	wkbPolyhedron     = 15
	wkbTriangles      = 16
	wkbTriangle       = 17
	wkbMultiPoint     = 4
	wkbMultiLine      = 5
	wkbMultiCurve     = 11
	deepestCollection = 32
)

var errCut = errors.New("the geometry breaks off")

// wkbReader turns well-known binary into polygons and, where they are asked
// for, points and lines. Its buffers are used again: a result lasts until the
// next call.
type wkbReader struct {
	points, lines bool // asked for

	data   []byte
	places []Point // of all rings, one after the other
	ends   []int   // where each ring ends in places
	parts  []int   // how many rings each polygon has
	links  []Point // of all lines, one after the other
	breaks []int   // where each line ends in links

	polygons []Polygon
	rings    []Ring
	chains   []Line
	spots    []Point

	sawPoints, sawLines bool // the geometry holds some, asked for or not
}

// read takes a geometry apart, collections too, in order, into polygons,
// chains and spots. Rings are closed; those of fewer than three places are
// dropped, for they cover nothing.
func (r *wkbReader) read(data []byte) error {
	r.data = data
	r.places, r.ends, r.parts = r.places[:0], r.ends[:0], r.parts[:0]
	r.links, r.breaks, r.spots = r.links[:0], r.breaks[:0], r.spots[:0]
	r.sawPoints, r.sawLines = false, false
	if len(data) > 0 {
		if err := r.geometry(0); err != nil {
			return err
		}
	}
	r.build()
	return nil
}

// build lays the rings out as polygons, and the lines, once the places no
// longer move.
func (r *wkbReader) build() {
	r.rings, r.polygons, r.chains = r.rings[:0], r.polygons[:0], r.chains[:0]
	from := 0
	for _, end := range r.breaks {
		r.chains = append(r.chains, Line(r.links[from:end:end]))
		from = end
	}
	from = 0
	for _, end := range r.ends {
		r.rings = append(r.rings, Ring(r.places[from:end:end]))
		from = end
	}
	at := 0
	for _, n := range r.parts {
		if n > 0 {
			r.polygons = append(r.polygons, Polygon(r.rings[at:at+n:at+n]))
		}
		at += n
	}
}

func (r *wkbReader) geometry(depth int) error {
	begun := r.data
	code, dims, err := r.head()
	if err != nil {
		return err
	}
	if depth > deepestCollection {
		return errors.New("collections lie too deep in one another")
	}
	switch code {
	case wkbPolygon, wkbTriangle:
		return r.polygon(dims)
	case wkbCurvePolygon:
		return r.curvePolygon()
	case wkbMultiPolygon, wkbMultiSurface, wkbCollection, wkbPolyhedron, wkbTriangles,
		wkbMultiPoint, wkbMultiLine, wkbMultiCurve:
		return r.members(depth)
	case wkbPoint:
		return r.spot(dims)
	case wkbLine, wkbArcs, wkbCompound:
		r.data = begun
		return r.chain()
	}
	return fmt.Errorf("its type %d is not known", code)
}

func (r *wkbReader) members(depth int) error {
	n, err := r.count(5)
	for i := 0; i < n && err == nil; i++ {
		err = r.geometry(depth + 1)
	}
	return err
}

// head reads the byte order, which must be little-endian, and the type; dims
// is how many numbers a point has.
func (r *wkbReader) head() (code, dims int, err error) {
	if len(r.data) < 5 {
		return 0, 0, errCut
	}
	if r.data[0] != 1 {
		return 0, 0, errors.New("its byte order is not little-endian")
	}
	raw := binary.LittleEndian.Uint32(r.data[1:])
	r.data = r.data[5:]
	dims = 2
	if raw&0x80000000 != 0 { // an older mark for heights
		raw, dims = raw&^0x80000000, 3
	}
	switch raw / 1000 {
	case 1, 2:
		dims = 3
	case 3:
		dims = 4
	}
	return int(raw % 1000), dims, nil
}

// count reads a number of things of at least the given size each.
func (r *wkbReader) count(size int) (int, error) {
	if len(r.data) < 4 {
		return 0, errCut
	}
	n := int(binary.LittleEndian.Uint32(r.data))
	r.data = r.data[4:]
	if n > len(r.data)/size {
		return 0, errCut
	}
	return n, nil
}

// spot reads a point; one without place, as an empty point is written, is
// none.
func (r *wkbReader) spot(dims int) error {
	if len(r.data) < 8*dims {
		return errCut
	}
	p := Point{r.number(0), r.number(1)}
	r.data = r.data[8*dims:]
	if !(math.Abs(p[0]) < farthest && math.Abs(p[1]) < farthest) {
		return nil
	}
	r.sawPoints = true
	if r.points {
		r.spots = append(r.spots, p)
	}
	return nil
}

// chain reads a line or curve as one line; one that is not asked for too, to
// get beyond it.
func (r *wkbReader) chain() error {
	from := len(r.places)
	if err := r.curve(0); err != nil {
		return err
	}
	line := r.places[from:]
	r.places = r.places[:from]
	if len(line) == 0 {
		return nil
	}
	r.sawLines = true
	if r.lines {
		r.links = append(r.links, line...)
		r.breaks = append(r.breaks, len(r.links))
	}
	return nil
}

func (r *wkbReader) polygon(dims int) error {
	n, err := r.count(4)
	if err != nil {
		return err
	}
	r.parts = append(r.parts, 0)
	for range n {
		from := len(r.places)
		if err := r.line(dims); err != nil {
			return err
		}
		r.endRing(from)
	}
	return nil
}

// farthest is beyond what any coordinate reference system counts, in
// millimetres even.
const farthest = 1e12

// line appends the points of a line.
func (r *wkbReader) line(dims int) error {
	n, err := r.count(8 * dims)
	if err != nil {
		return err
	}
	for range n {
		p := Point{r.number(0), r.number(1)}
		r.data = r.data[8*dims:]
		if !(math.Abs(p[0]) < farthest && math.Abs(p[1]) < farthest) {
			return fmt.Errorf("the place %v, %v is no place", p[0], p[1])
		}
		r.places = append(r.places, p)
	}
	return nil
}

func (r *wkbReader) number(i int) float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(r.data[8*i:]))
}

func finite(v float64) bool { return v-v == 0 }

// endRing closes the ring that began at from, or drops it.
func (r *wkbReader) endRing(from int) {
	n := len(r.places) - from
	if n > 0 && r.places[from] != r.places[from+n-1] {
		r.places = append(r.places, r.places[from])
		n++
	}
	if n < 4 {
		r.places = r.places[:from]
		return
	}
	r.ends = append(r.ends, len(r.places))
	r.parts[len(r.parts)-1]++
}

func (r *wkbReader) curvePolygon() error {
	n, err := r.count(9)
	if err != nil {
		return err
	}
	r.parts = append(r.parts, 0)
	for range n {
		from := len(r.places)
		if err := r.curve(0); err != nil {
			return err
		}
		r.endRing(from)
	}
	return nil
}

// curve appends a line, a chain of arcs, or a compound of both as a line.
func (r *wkbReader) curve(depth int) error {
	code, dims, err := r.head()
	if err != nil {
		return err
	}
	switch {
	case code == wkbLine:
		return r.line(dims)
	case code == wkbArcs:
		from := len(r.places)
		if err := r.line(dims); err != nil {
			return err
		}
		return r.bend(from)
	case code == wkbCompound && depth == 0:
		n, err := r.count(9)
		for i := 0; i < n && err == nil; i++ {
			err = r.curve(1)
		}
		return err
	}
	return fmt.Errorf("a ring of type %d is not known", code)
}

// mostChords is how many points the arcs of one geometry may take: some 700 a
// full circle.
const mostChords = 4_000_000

// bend replaces the points from the given one on, a chain of arcs of three
// points each, by chords.
func (r *wkbReader) bend(from int) error {
	through := append([]Point(nil), r.places[from:]...)
	if len(through) == 0 {
		return nil
	}
	if len(through)%2 == 0 {
		return errors.New("a chain of arcs has an even number of points")
	}
	r.places = append(r.places[:from], through[0])
	for i := 0; i+2 < len(through); i += 2 {
		if len(r.places) > mostChords+2*len(through) {
			return errors.New("its arcs take too many chords")
		}
		r.places = appendArc(r.places, through[i], through[i+1], through[i+2])
	}
	return nil
}
