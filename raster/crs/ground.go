package crs

import (
	"fmt"
	"math"
)

// ground ties the coordinates of one CRS to longitude and latitude on its own
// datum and to its ellipsoid. It is not for two goroutines.
type ground struct {
	s          *session
	op         object  // CRS to its geodetic CRS; unused when the CRS is geographic
	direct     bool    // the CRS is geographic
	unit       float64 // degrees in one unit of the geodetic CRS
	meridian   float64 // of the CRS, degrees east of Greenwich
	metres     float64 // in one unit of the CRS; 0 for geographic
	radius     float64 // semi-major axis, metres
	flattening float64
}

func openGround(text string) (*ground, error) {
	s, err := newSession()
	if err != nil {
		return nil, err
	}
	g := &ground{s: s}
	if err := g.prepare(text); err != nil {
		s.close()
		return nil, err
	}
	return g, nil
}

func (g *ground) close() { g.s.close() }

func (g *ground) prepare(text string) error {
	crs, err := g.s.horizontal(text)
	if err != nil {
		return err
	}
	if crs.kind() == kindBound {
		if core, ok := crs.bound(); ok {
			crs = core
		}
	}
	base, ok := crs.geodetic()
	if !ok {
		return refuse(remedyCRS, "the coordinate reference system %s has no geographic base", shorten(text))
	}
	_, radians := base.axes()
	g.unit = radians * 180 / math.Pi
	g.meridian = base.primeMeridian() * 180 / math.Pi
	if g.radius, g.flattening, ok = base.ellipsoid(); !ok {
		return refuse(remedyCRS, "the coordinate reference system %s has no ellipsoid", shorten(text))
	}
	if g.direct = crs.kind() == kindGeographic; g.direct {
		return nil
	}
	_, g.metres = crs.axes()
	return g.openInverse(crs, base, text)
}

func (g *ground) openInverse(crs, base object, text string) error {
	ops, err := g.s.operations(crs, base, search{everywhere: true})
	if err != nil {
		return err
	}
	if len(ops) == 0 {
		return refuse(remedyCRS, "the coordinate reference system %s has no way back to longitude and latitude", shorten(text))
	}
	plain, ok := ops[0].normalised()
	if !ok {
		return fmt.Errorf("PROJ cannot order the axes of %s: %s", shorten(text), g.s.trouble())
	}
	// The operation as an object lacks what the pipeline has: units in degrees.
	if g.op, ok = g.s.create(plain.pipeline()); !ok {
		return fmt.Errorf("PROJ cannot open the projection of %s: %s", shorten(text), g.s.trouble())
	}
	return nil
}

// lonLat turns coordinates into degrees in place, Inf where there is no ground.
func (g *ground) lonLat(x, y []float64) {
	if !g.direct {
		g.op.transform(false, x, y)
	}
	for i := range x {
		x[i], y[i] = float64(x[i]*g.unit)+g.meridian, y[i]*g.unit
		if !finite(x[i], y[i]) || math.Abs(y[i]) > 90+1e-9 {
			x[i], y[i] = math.Inf(1), math.Inf(1)
		}
	}
}

// project is lonLat the other way round.
func (g *ground) project(lon, lat []float64) {
	for i := range lon {
		lon[i], lat[i] = (lon[i]-g.meridian)/g.unit, lat[i]/g.unit
	}
	if !g.direct {
		g.op.transform(true, lon, lat)
	}
}

// vector is a place or direction in space, metres from the earth's centre.
type vector [3]float64

func (v vector) minus(w vector) vector {
	return vector{v[0] - w[0], v[1] - w[1], v[2] - w[2]}
}

func (v vector) dot(w vector) float64 {
	return float64(v[0]*w[0]) + float64(v[1]*w[1]) + float64(v[2]*w[2])
}

// place returns where a longitude and latitude lie on the ellipsoid.
func (g *ground) place(lon, lat float64) vector {
	e2 := g.flattening * (2 - g.flattening)
	sinLat, cosLat := math.Sincos(lat * math.Pi / 180)
	sinLon, cosLon := math.Sincos(lon * math.Pi / 180)
	n := g.radius / math.Sqrt(1-float64(e2*float64(sinLat*sinLat)))
	return vector{n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - e2) * sinLat}
}

// tangents holds how a place on the ground moves, in metres, for each unit
// gone east and north in the CRS: ee, nn, en are the products of the two
// directions.
type tangents struct{ ee, nn, en float64 }

// element returns the ground in square metres under one square unit.
func (t tangents) element() float64 {
	return math.Sqrt(max(float64(t.ee*t.nn)-float64(t.en*t.en), 0))
}

// stretch returns the least and the largest ground length of one unit, over
// all directions.
func (t tangents) stretch() (least, most float64) {
	mean, half := (t.ee+t.nn)/2, math.Hypot((t.ee-t.nn)/2, t.en)
	return math.Sqrt(max(mean-half, 0)), math.Sqrt(mean + half)
}

// farJump is how many times longer than meant a step on the ground may be; a
// longer one crosses a cut of the projection.
const farJump = 1000

// step is how far apart, in CRS units, derivatives are taken: 10 m or 1e-4 of
// an angular unit, where truncation and rounding are both below 1e-9.
func (g *ground) step() float64 {
	if g.direct {
		return 1e-4
	}
	return 10 / g.metres
}

// tangentsAt returns the tangents at places in CRS coordinates; where there is
// no ground, or a cut passes, all are 0. scratch holds four values a place.
func (g *ground) tangentsAt(x, y []float64, out []tangents, scratchX, scratchY []float64) {
	h := g.step()
	for i := range x {
		sx, sy := scratchX[4*i:4*i+4], scratchY[4*i:4*i+4]
		sx[0], sx[1], sx[2], sx[3] = x[i]+h, x[i]-h, x[i], x[i]
		sy[0], sy[1], sy[2], sy[3] = y[i], y[i], y[i]+h, y[i]-h
	}
	g.lonLat(scratchX[:4*len(x)], scratchY[:4*len(x)])
	for i := range x {
		out[i] = g.tangentsOf(scratchX[4*i:4*i+4], scratchY[4*i:4*i+4], h)
	}
}

func (g *ground) tangentsOf(lon, lat []float64, h float64) tangents {
	var p [4]vector
	for i := range p {
		if !finite(lon[i], lat[i]) {
			return tangents{}
		}
		p[i] = g.place(lon[i], lat[i])
	}
	east, north := p[0].minus(p[1]), p[2].minus(p[3])
	w := 1 / (2 * h * 2 * h)
	t := tangents{east.dot(east) * w, north.dot(north) * w, east.dot(north) * w}
	most := farJump * g.metres
	if g.direct {
		most = farJump * g.radius
	}
	if t.ee > most*most || t.nn > most*most {
		return tangents{}
	}
	return t
}
