package geojson

import (
	"fmt"
	"math"
	"slices"
)

// perDegree is how many steps a degree has in what is written. Positions are
// rounded to whole steps before anything is cut, and counted in them from
// then on, so that a longitude that is moved by whole turns stays exact.
const (
	perDegree = 10_000_000
	quarter   = 90 * perDegree
	half      = 180 * perDegree
	whole     = 360 * perDegree
)

// place is a position in whole steps; line an open ring of such; polygon a
// shell and its holes, the ways they run set right.
type (
	place   struct{ lon, lat int64 }
	line    []place
	polygon []line
)

// flatten brings an area into the form that is written: cut at the
// antimeridian, rounded, rings turned, what has no area dropped.
func flatten(area MultiPolygon) ([]polygon, error) {
	var out []polygon
	for _, p := range area {
		pieces, err := p.cut()
		if err != nil {
			return nil, err
		}
		for _, piece := range pieces {
			if q := piece.tidy(); q != nil {
				out = append(out, q)
			}
		}
	}
	return out, nil
}

// tidy sets the rings right; nil where nothing is left of the polygon.
func (p Polygon) tidy() polygon {
	var out polygon
	for i, r := range p {
		r = tidy(r)
		turn := r.turn()
		switch {
		case turn == 0 && i == 0:
			return nil
		case turn == 0:
			continue
		case turn > 0 == (i > 0): // shells run counter-clockwise, holes clockwise
			slices.Reverse(r)
		}
		out = append(out, r.line())
	}
	return out
}

func (r Ring) line() line {
	out := make(line, len(r))
	for i, p := range r {
		out[i] = place{int64(p[0]), int64(p[1])}
	}
	return out
}

// tidy takes out positions that follow an equal one, and spikes, which go
// somewhere and straight back. It re-uses the ring's memory.
func tidy(r Ring) Ring {
	out := r[:0]
	for _, p := range r {
		out = append(out, p)
		out = trim(out)
	}
	for len(out) > 1 { // the same over the seam
		n := len(out)
		switch {
		case out[n-1] == out[0]:
			out = out[:n-1]
		case n > 2 && out[n-2] == out[0]:
			out = out[:n-2]
		case n > 2 && out[n-1] == out[1]:
			out = out[1 : n-1]
		default:
			return out
		}
	}
	return out
}

// trim takes the last position away if it repeats the one before, and the
// last two if they go back to the one before them.
func trim(r Ring) Ring {
	n := len(r)
	switch {
	case n > 1 && r[n-1] == r[n-2]:
		return r[:n-1]
	case n > 2 && r[n-1] == r[n-3]:
		return r[:n-2]
	}
	return r
}

// turn is twice the ring's area, positive where it runs counter-clockwise.
func (r Ring) turn() float64 {
	var sum float64
	for i := range r {
		p, q := r[i], r[(i+1)%len(r)]
		sum += float64((p[0]-r[0][0])*(q[1]-r[0][1])) - float64((q[0]-r[0][0])*(p[1]-r[0][1]))
	}
	return sum
}

// unwrap returns the open ring, in whole steps, with longitudes that run on
// over the antimeridian instead of jumping, and which way it goes round a
// pole: 0 not, 1 eastward, -1 westward.
func (r Ring) unwrap() (out Ring, round float64, err error) {
	if n := len(r); n > 1 && r[0] == r[n-1] {
		r = r[:n-1]
	}
	out = make(Ring, 0, len(r))
	for i, p := range r {
		if !(math.Abs(p[0]) <= 1e6) || !(math.Abs(p[1]) <= 90) {
			return nil, 0, fmt.Errorf("position %d is longitude %v, latitude %v", i+1, p[0], p[1])
		}
		at := Position{math.Round(p[0] * perDegree), math.Round(p[1] * perDegree)}
		if i > 0 {
			last := out[i-1][0]
			at[0] = last + step(last, at[0])
		}
		out = append(out, at)
	}
	if n := len(out); n > 0 {
		end := out[n-1][0] + step(out[n-1][0], out[0][0])
		round = math.Round((end - out[0][0]) / whole)
	}
	return out, round, nil
}

// step is the way from one longitude to another, the shorter way round.
func step(from, to float64) float64 {
	d := to - from
	if math.Abs(d) <= half {
		return d
	}
	return d - whole*math.Round(d/whole)
}

// shift moves a ring along in longitude.
func (r Ring) shift(by float64) Ring {
	for i := range r {
		r[i][0] += by
	}
	return r
}

// span returns the least and greatest longitude.
func (r Ring) span() (west, east float64) {
	west, east = math.Inf(1), math.Inf(-1)
	for _, p := range r {
		west, east = min(west, p[0]), max(east, p[0])
	}
	return west, east
}
