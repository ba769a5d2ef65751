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
	segments []segment // one before the first point and one that starts at each
}

// segment is the line from one point to the next, or the level ground before
// the first or after the last.
type segment struct {
	from, end float32 // the values it is for: from <= x < end
	x, y      float64 // where it starts
	slope     float64
	last      float64 // the score at its end, which rounding may not overshoot
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
	first, last := ps[0], ps[len(ps)-1]
	lowest, highest := float32(math.Inf(-1)), float32(math.Inf(1))
	out := []segment{{from: lowest, end: float32(first.X), y: first.Y}}
	for i, p := range ps[1:] {
		before := ps[i]
		out = append(out, segment{
			from: float32(before.X), end: float32(p.X), x: before.X, y: before.Y,
			slope: (p.Y - before.Y) / (p.X - before.X), last: p.Y,
		})
	}
	return append(out, segment{from: float32(last.X), end: highest, y: last.Y})
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
	for i := 0; i < len(src); {
		if src[i] != src[i] {
			dst[i] = src[i]
			i++
			continue
		}
		s := find(c.segments, src[i])
		switch {
		case s.slope > 0:
			i = s.rise(dst, src, i)
		case s.slope < 0:
			i = s.fall(dst, src, i)
		default:
			i = s.level(dst, src, i)
		}
	}
}

// rise, fall and level score the value at i, which the segment holds, and
// those after it as long as it holds them; they return where they stopped.

func (s *segment) rise(dst, src []float32, i int) int {
	from, end, x, y, slope, last := s.from, s.end, s.x, s.y, s.slope, s.last
	for ; i < len(src) && i < len(dst) && src[i] >= from && src[i] < end; i++ {
		v := y + float64((float64(src[i])-x)*slope)
		if v > last {
			v = last
		}
		dst[i] = float32(v)
	}
	return i
}

func (s *segment) fall(dst, src []float32, i int) int {
	from, end, x, y, slope, last := s.from, s.end, s.x, s.y, s.slope, s.last
	for ; i < len(src) && i < len(dst) && src[i] >= from && src[i] < end; i++ {
		v := y + float64((float64(src[i])-x)*slope)
		if v < last {
			v = last
		}
		dst[i] = float32(v)
	}
	return i
}

func (s *segment) level(dst, src []float32, i int) int {
	from, end, y := s.from, s.end, float32(s.y)
	dst[i] = y
	for i++; i < len(src) && i < len(dst) && src[i] >= from && src[i] < end; i++ {
		dst[i] = y
	}
	return i
}

// At returns the score of one value.
func (c Curve) At(x float32) float32 {
	var out [1]float32
	c.Apply(out[:], []float32{x})
	return out[0]
}

// find returns the segment that holds x, the last for +Inf.
func find(segments []segment, x float32) *segment {
	low, high := 0, len(segments)
	for high-low > 1 {
		middle := int(uint(low+high) >> 1)
		if x >= segments[middle].from {
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
