// Package response turns what a map says at a place into a score from 0
// (hopeless for the organism) to 1 (as good as it gets): a quantity through
// a [Curve], a class through [Scores].
//
// It knows no plan, no file and no grid. Units are the caller's: a curve's X
// is in its layer's own unit (metres, degrees, pH). A missing value (NaN, or
// raster.MissingCode for a class) gives a missing score (NaN); what a missing
// score means for the whole is left to package combine.
//
// Piecewise linear response curves are the trapezoids and ramps of habitat
// suitability index models (U.S. Fish and Wildlife Service 1981, Standards
// for the Development of Habitat Suitability Index Models, 103 ESM; from
// memory).
package response

import (
	"fmt"
	"math"
	"sort"
)

// Point is one corner of a curve: at the value X the score is Y.
type Point struct{ X, Y float64 }

// Curve is a piecewise linear response: straight between its points and flat
// beyond them. The zero Curve scores everything 0. A Curve never changes and
// is safe for use by many goroutines.
type Curve struct {
	points   []Point
	segments []segment // one a point: the line that starts there; the last is level
}

// segment is the line from one point to the next. Low and high bound its
// scores, so that rounding neither overshoots nor breaks monotony.
type segment struct {
	x, end    float64
	y, slope  float64
	low, high float64
}

// NewCurve returns the curve through the points, given in any order. X must
// be finite and differ from point to point, Y lie in 0..1; one point alone
// gives a constant. X is kept in the precision of a layer's cells (float32),
// so that a cell whose value prints as the point's X gets exactly the
// point's Y. The error is an [*Error].
func NewCurve(points []Point) (Curve, error) {
	if len(points) == 0 {
		return Curve{}, &Error{"a curve without points", "give at least one, such as {5.5: 1}"}
	}
	ps := make([]Point, len(points))
	for i, p := range points {
		if err := p.check(); err != nil {
			return Curve{}, err
		}
		ps[i] = Point{float64(float32(p.X)) + 0, p.Y + 0} // + 0: no negative zero
	}
	sort.Slice(ps, func(i, j int) bool { return ps[i].X < ps[j].X })
	for i := 1; i < len(ps); i++ {
		if ps[i].X == ps[i-1].X {
			return Curve{}, &Error{fmt.Sprintf("a curve with two points at %v", ps[i].X),
				"keep one of them; for a step, set them a little apart"}
		}
	}
	return Curve{points: ps, segments: segmentsOf(ps)}, nil
}

func (p Point) check() error {
	if x := float64(float32(p.X)); math.IsNaN(x) || math.IsInf(x, 0) {
		return &Error{fmt.Sprintf("a curve point at %v", p.X), "give a finite number in the layer's unit"}
	}
	if !(p.Y >= 0 && p.Y <= 1) {
		return &Error{fmt.Sprintf("a curve score of %v at %v", p.Y, p.X), "scores go from 0 to 1"}
	}
	return nil
}

func segmentsOf(ps []Point) []segment {
	out := make([]segment, len(ps))
	for i, p := range ps {
		s := segment{x: p.X, end: math.Inf(1), y: p.Y, low: p.Y, high: p.Y}
		if i+1 < len(ps) {
			q := ps[i+1]
			s.end, s.slope = q.X, (q.Y-p.Y)/(q.X-p.X)
			s.low, s.high = min(p.Y, q.Y), max(p.Y, q.Y)
		}
		out[i] = s
	}
	return out
}

// Points returns the curve's points in order of X.
func (c Curve) Points() []Point { return append([]Point(nil), c.points...) }

// Bounds returns the values below lo and above hi of which the curve is
// flat: a layer that feeds it need not be told apart beyond them. For a
// constant both are its first X; for the zero Curve both are 0.
func (c Curve) Bounds() (lo, hi float64) {
	if len(c.points) == 0 {
		return 0, 0
	}
	first, last := 0, len(c.points)-1
	for last > 0 && c.points[last-1].Y == c.points[last].Y {
		last--
	}
	for first < last && c.points[first+1].Y == c.points[first].Y {
		first++
	}
	return c.points[first].X, c.points[last].X
}

// Apply writes the score of each value of src to dst, which must be at least
// as long and may be src itself. Missing (NaN) stays missing; scores lie in
// 0..1, are exact at the points and monotone between them.
func (c Curve) Apply(dst, src []float32) {
	dst = dst[:len(src)]
	if len(c.segments) == 0 {
		constant(dst, src, 0)
		return
	}
	first, last := c.points[0].X, c.points[len(c.points)-1].X
	s := c.segments[0]
	for i, v := range src {
		x := float64(v)
		if x < first {
			x = first
		}
		if x > last {
			x = last
		}
		if !(x >= s.x && x < s.end) {
			s = *find(c.segments, x)
		}
		y := s.y + float64((x-s.x)*s.slope)
		if y < s.low {
			y = s.low
		}
		if y > s.high {
			y = s.high
		}
		dst[i] = float32(y)
	}
}

// At returns the score of one value.
func (c Curve) At(x float32) float32 {
	var out [1]float32
	c.Apply(out[:], []float32{x})
	return out[0]
}

// find returns the segment that holds x, the first for NaN.
func find(segments []segment, x float64) *segment {
	low, high := 0, len(segments)
	for high-low > 1 {
		middle := int(uint(low+high) >> 1)
		if x >= segments[middle].x {
			low = middle
		} else {
			high = middle
		}
	}
	return &segments[low]
}

func constant(dst, src []float32, y float32) {
	for i, v := range src {
		if v == v {
			v = y
		}
		dst[i] = v
	}
}
