// Package terrain works out the shape of the ground from its heights: slope,
// aspect, how far a slope faces north or east, curvature, ruggedness, and how
// much sun a slope gets.
//
// Gradients are those of Horn (1981, Hill shading and the reflectance map,
// Proceedings of the IEEE 69:14–47): differences over the eight neighbours,
// the nearer ones counted twice. Curvatures have derivatives of their own, see
// [Bend]. Cells may be oblong.
//
// Every function takes a tile of heights one cell wider on each side than the
// tile it fills. Heights, dx and dy are in one unit, metres as a rule. A cell
// is missing (NaN) where it or one of its eight neighbours is. Aspect is the
// direction of steepest descent, clockwise from the grid's north, which is
// not quite true north; the kernels of sunshine know how the two differ from a
// [Lie], which a door to projections gives. What a slope means to an organism
// is not known here. How a place lies above the ground further off is worked
// out by raster/nearby.
package terrain

import (
	"math"

	"likelyground/raster"
)

// Unit is the unit of a slope.
type Unit int

const (
	Degrees Unit = iota // 0 to 90
	Percent             // 100 times rise over run
)

// Slope sets dst to the steepness of src.
func Slope(dst, src raster.Tile, dx, dy float64, unit Unit) {
	m := steepness
	if unit == Percent {
		m = grade
	}
	m.fill(dst, src, dx, dy)
}

// Northness sets dst to the cosine of the aspect of src: 1 where the ground
// falls to the north, -1 where it falls to the south. Flat ground, which has
// no aspect, gets 0 (common practice, no source).
func Northness(dst, src raster.Tile, dx, dy float64) { northness.fill(dst, src, dx, dy) }

// Eastness sets dst to the sine of the aspect of src: 1 where the ground
// falls to the east, -1 where it falls to the west. Flat ground gets 0
// (common practice, no source).
func Eastness(dst, src raster.Tile, dx, dy float64) { eastness.fill(dst, src, dx, dy) }

// Aspect sets dst to the direction, 0 up to 360 degrees clockwise from the
// grid's north, in which src falls most steeply; missing on flat ground.
func Aspect(dst, src raster.Tile, dx, dy float64) { aspect.fill(dst, src, dx, dy) }

// measure is what is made of a gradient.
type measure int

const (
	steepness measure = iota // degrees
	grade                    // percent
	northness
	eastness
	aspect
)

// strip is how many cells of a row are worked on at a time.
const strip = 256

func (m measure) fill(dst, src raster.Tile, dx, dy float64) {
	var east, north [strip]float64
	kx, ky := 1/(8*dx), 1/(8*dy)
	for row := dst.Row; row < dst.EndRow(); row++ {
		up, at, down := src.ValueRow(row-1), src.ValueRow(row), src.ValueRow(row+1)
		out := dst.ValueRow(row)
		for from := 0; from < len(out); from += strip {
			part := out[from:min(from+strip, len(out))]
			x, y := east[:len(part)], north[:len(part)]
			gradients(x, y, up[from:], at[from:], down[from:], kx, ky)
			m.turn(part, x, y)
		}
	}
}

// turn sets out to the measure of the gradients (x, y).
func (m measure) turn(out []float32, x, y []float64) {
	switch m {
	case steepness:
		inDegrees(out, x, y)
	case grade:
		inPercent(out, x, y)
	case northness:
		partOf(y, out, x, y)
	case eastness:
		partOf(x, out, x, y)
	case aspect:
		directions(out, x, y)
	}
}

// gradients sets east and north to the rise over run of the cells between
// three rows of heights, which begin one cell before them. kx and ky are 1 /
// 8 cell sides. NaN where a height is missing, the cell's own included.
func gradients(east, north []float64, up, at, down []float32, kx, ky float64) {
	n := len(east)
	north, up, at, down = north[:n], up[:n+2], at[:n+2], down[:n+2]
	s0, d0 := column(up[0], at[0], down[0])
	s1, d1 := column(up[1], at[1], down[1])
	up, at, down = up[2:], at[2:], down[2:]
	for i := range east {
		s2, d2 := column(up[i], at[i], down[i])
		east[i] = (s2 - s0) * kx
		north[i] = (d0 + (d1 + d1) + d2) * ky
		s0, d0, s1, d1 = s1, d1, s2, d2
	}
}

// column returns the weighted sum of three heights one below the other, and
// by how much the upper one is higher than the lower. Either is NaN where one
// of the three is.
func column(up, at, down float32) (sum, drop float64) {
	u, a, d := float64(up), float64(at), float64(down)
	return u + (a + a) + d, (u - d) + (a - a)
}

// The products below are rounded before they are added, so that a fused
// multiply-add cannot change a bit.

func squaredLength(x, y float64) float64 { return float64(x*x) + float64(y*y) }

func inDegrees(out []float32, x, y []float64) {
	x, y = x[:len(out)], y[:len(out)]
	for i := range out {
		w := squaredLength(x[i], y[i])
		out[i] = float32(arctan(math.Sqrt(w), w))
	}
}

func inPercent(out []float32, x, y []float64) {
	x, y = x[:len(out)], y[:len(out)]
	for i := range out {
		out[i] = float32(100 * math.Sqrt(squaredLength(x[i], y[i])))
	}
}

// partOf sets out to the part of the unit vector downhill that belongs to
// side, which is x or y; 0 on flat ground.
func partOf(side []float64, out []float32, x, y []float64) {
	side, x, y = side[:len(out)], x[:len(out)], y[:len(out)]
	for i := range out {
		down := 0 - side[i] // 0 - 0 is 0, not -0
		if length := math.Sqrt(squaredLength(x[i], y[i])); length != 0 {
			down /= length
		}
		out[i] = float32(down)
	}
}

// directions sets out to the aspects; missing on flat ground.
func directions(out []float32, x, y []float64) {
	x, y = x[:len(out)], y[:len(out)]
	for i := range out {
		if x[i] == 0 && y[i] == 0 {
			out[i] = raster.Missing
			continue
		}
		v := float32(bearing(0-x[i], 0-y[i]))
		if v == 360 {
			v = 0
		}
		out[i] = v
	}
}
