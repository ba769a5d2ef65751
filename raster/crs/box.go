package crs

import (
	"fmt"
	"math"
)

// Box is a rectangle in longitude and latitude, degrees, unless said
// otherwise. West is greater than East where it crosses the antimeridian.
type Box struct{ West, South, East, North float64 }

// densePoints is the number of points taken along each side of a box.
const densePoints = 42

// UsableBox returns the box in longitude and latitude (on the datum of the CRS,
// from Greenwich) that holds a box given in a CRS. The edges are made dense, a
// pole inside the box counts, and the result may cross the antimeridian. Where
// parts of the edge lie beyond the projection's domain the rest decides; it is
// a [Refusal] when nothing of the box lies on the earth.
func UsableBox(crsText string, west, south, east, north float64) (Box, error) {
	if !(west <= east && south <= north) || !finite(west, south) || !finite(east, north) {
		return Box{}, refuse("give west before east and south before north, in units of the CRS",
			"%g %g %g %g is no box", west, south, east, north)
	}
	g, err := openGround(crsText)
	if err != nil {
		return Box{}, err
	}
	defer g.close()
	x, y := outline(west, south, east, north)
	g.lonLat(x, y)
	s := spanOf(x, y)
	if s.gaps {
		x, y = filling(west, south, east, north)
		g.lonLat(x, y)
		s.addScattered(x, y)
	}
	if s.north < s.south {
		return Box{}, refuse(remedyCRS, "the box %g %g %g %g in %s lies nowhere on the earth", west, south, east, north, shorten(crsText))
	}
	for _, pole := range []float64{-90, 90} {
		if g.poleInside(pole, west, south, east, north) {
			s.south, s.north = min(s.south, pole), max(s.north, pole)
			s.west, s.east = -180, 180
		}
	}
	return s.box(), nil
}

// outline returns points along the edges, in order round the box.
func outline(west, south, east, north float64) (x, y []float64) {
	at := func(a, b float64, i int) float64 { return a + float64((b-a)*float64(i))/densePoints }
	for i := range densePoints {
		x, y = append(x, at(west, east, i)), append(y, south)
	}
	for i := range densePoints {
		x, y = append(x, east), append(y, at(south, north, i))
	}
	for i := range densePoints {
		x, y = append(x, at(east, west, i)), append(y, north)
	}
	for i := range densePoints + 1 {
		x, y = append(x, west), append(y, at(north, south, i))
	}
	return x, y
}

// filling returns points all over the box.
func filling(west, south, east, north float64) (x, y []float64) {
	for i := range densePoints + 1 {
		for j := range densePoints + 1 {
			x = append(x, west+float64((east-west)*float64(i))/densePoints)
			y = append(y, south+float64((north-south)*float64(j))/densePoints)
		}
	}
	return x, y
}

// span is the extent of points; longitudes run on beyond 180.
type span struct {
	west, south, east, north float64
	gaps                     bool // some points have no place
}

// spanOf follows an outline, longitudes unrolled.
func spanOf(lon, lat []float64) span {
	s := span{west: math.Inf(1), south: math.Inf(1), east: math.Inf(-1), north: math.Inf(-1)}
	last, started := 0.0, false
	for i := range lon {
		if !finite(lon[i], lat[i]) {
			s.gaps = true
			continue
		}
		l := lon[i]
		if started {
			l = last + math.Remainder(l-last, 360)
		}
		last, started = l, true
		s.west, s.east = min(s.west, l), max(s.east, l)
		s.south, s.north = min(s.south, lat[i]), max(s.north, lat[i])
	}
	return s
}

// addScattered widens the span to points in no order; more than a half circle
// becomes the whole.
func (s *span) addScattered(lon, lat []float64) {
	for i := range lon {
		if !finite(lon[i], lat[i]) {
			continue
		}
		l := lon[i]
		if s.west <= s.east {
			middle := (s.west + s.east) / 2
			l = middle + math.Remainder(l-middle, 360)
		}
		s.west, s.east = min(s.west, l), max(s.east, l)
		s.south, s.north = min(s.south, lat[i]), max(s.north, lat[i])
	}
	if s.east-s.west > 180 {
		s.west, s.east = -180, 180
	}
}

func (s span) box() Box {
	if s.east-s.west >= 360 {
		return Box{-180, s.south, 180, s.north}
	}
	return Box{wrap(s.west, -180), s.south, -wrap(-s.east, -180), s.north}
}

// wrap brings a longitude into [low, low+360).
func wrap(lon, low float64) float64 {
	if lon >= low && lon < low+360 {
		return lon
	}
	return lon - float64(360*math.Floor((lon-low)/360))
}

// poleInside reports whether a pole lies in a box of a projected CRS.
func (g *ground) poleInside(pole, west, south, east, north float64) bool {
	if g.direct {
		return false
	}
	x, y := []float64{0}, []float64{pole}
	g.project(x, y)
	if !finite(x[0], y[0]) || x[0] < west || x[0] > east || y[0] < south || y[0] > north {
		return false
	}
	g.lonLat(x, y) // some projections put the pole anywhere
	return math.Abs(y[0]-pole) < 1e-6
}

// centre returns the middle of the box.
func (b Box) centre() (lon, lat float64) {
	east := b.East
	if east < b.West {
		east += 360
	}
	return wrap((b.West+east)/2, -180), (b.South + b.North) / 2
}

// SuggestProjected returns the code of a projected CRS in metres to use for a
// box instead of longitude and latitude: the UTM zone of its middle, on ETRS89
// in Europe and on WGS 84 elsewhere, or the polar stereographic one beyond the
// UTM zones.
func SuggestProjected(b Box) string {
	lon, lat := b.centre()
	switch {
	case lat > 84:
		return "EPSG:5041"
	case lat < -80:
		return "EPSG:5042"
	}
	zone := utmZone(lon, lat)
	if lon > -16 && lon < 40 && lat > 34 && lat < 72 && zone >= 28 && zone <= 37 {
		return fmt.Sprintf("EPSG:%d", 25800+zone)
	}
	if lat < 0 {
		return fmt.Sprintf("EPSG:%d", 32700+zone)
	}
	return fmt.Sprintf("EPSG:%d", 32600+zone)
}

// utmZone returns the zone of a place with the exceptions for Norway and
// Svalbard.
func utmZone(lon, lat float64) int {
	zone := int(math.Floor((lon+180)/6)) + 1
	if lat >= 56 && lat < 64 && lon >= 3 && lon < 12 {
		return 32
	}
	if lat >= 72 && lon >= 0 && lon < 42 {
		return 31 + 2*int(math.Floor((lon+3)/12))
	}
	return min(max(zone, 1), 60)
}
