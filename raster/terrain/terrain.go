// Package terrain works out the shape of the ground from its heights: slope,
// aspect, and how far a slope faces north or east.
//
// Gradients are those of Horn (1981, Hill shading and the reflectance map,
// Proceedings of the IEEE 69:14–47): differences over the eight neighbours,
// the nearer ones counted twice. Cells may be oblong.
//
// Every function takes a tile of heights one cell wider on each side than the
// tile it fills. Heights, dx and dy are in one unit, metres as a rule. A cell
// is missing (NaN) where it or one of its eight neighbours is. Aspect is the
// direction of steepest descent, clockwise from the grid's north.
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

// degrees in a radian.
const degree = 180 / math.Pi

// Slope sets dst to the steepness of src.
func Slope(dst, src raster.Tile, dx, dy float64, unit Unit) {
	kx, ky := 1/(8*dx), 1/(8*dy)
	for row := dst.Row; row < dst.EndRow(); row++ {
		n := neighboursOf(src, row)
		out := dst.ValueRow(row)
		if unit == Percent {
			for i := range out {
				gx, gy := n.gradient(i)
				out[i] = float32(100 * length(gx*kx, gy*ky))
			}
			continue
		}
		for i := range out {
			gx, gy := n.gradient(i)
			out[i] = float32(degree * arctan(length(gx*kx, gy*ky)))
		}
	}
}

// Northness sets dst to the cosine of the aspect of src: 1 where the ground
// falls to the north, -1 where it falls to the south. Flat ground, which has
// no aspect, gets 0 (common practice, no source).
func Northness(dst, src raster.Tile, dx, dy float64) { facing(dst, src, dx, dy, false) }

// Eastness sets dst to the sine of the aspect of src: 1 where the ground
// falls to the east, -1 where it falls to the west. Flat ground gets 0
// (common practice, no source).
func Eastness(dst, src raster.Tile, dx, dy float64) { facing(dst, src, dx, dy, true) }

func facing(dst, src raster.Tile, dx, dy float64, east bool) {
	kx, ky := 1/(8*dx), 1/(8*dy)
	for row := dst.Row; row < dst.EndRow(); row++ {
		n := neighboursOf(src, row)
		out := dst.ValueRow(row)
		for i := range out {
			gx, gy := n.gradient(i)
			x, y := gx*kx, gy*ky
			part := y
			if east {
				part = x
			}
			if l := length(x, y); l != 0 { // NaN too
				part = -part / l
			}
			out[i] = float32(part)
		}
	}
}

// Aspect sets dst to the direction, 0 up to 360 degrees clockwise from the
// grid's north, in which src falls most steeply; missing on flat ground.
func Aspect(dst, src raster.Tile, dx, dy float64) {
	kx, ky := 1/(8*dx), 1/(8*dy)
	for row := dst.Row; row < dst.EndRow(); row++ {
		n := neighboursOf(src, row)
		out := dst.ValueRow(row)
		for i := range out {
			gx, gy := n.gradient(i)
			out[i] = direction(gx*kx, gy*ky)
		}
	}
}

// direction returns the aspect of ground that rises by x to the east and y
// to the north.
func direction(x, y float64) float32 {
	if x != x || y != y || x == 0 && y == 0 {
		return raster.Missing
	}
	a := arctan2(-x, -y) * degree
	if a < 0 {
		a += 360
	}
	if v := float32(a); v < 360 {
		return v
	}
	return 0
}

// neighbours are the three rows of heights around a row of cells.
type neighbours struct{ up, at, down []float32 }

func neighboursOf(src raster.Tile, row int) neighbours {
	return neighbours{src.ValueRow(row - 1), src.ValueRow(row), src.ValueRow(row + 1)}
}

// gradient returns eight times the rise to the east and to the north of the
// i-th cell, for a cell side of 1. Sums of float32 heights are exact enough
// in float64 for their order not to matter.
func (n *neighbours) gradient(i int) (east, north float64) {
	a, b, c := float64(n.up[i]), float64(n.up[i+1]), float64(n.up[i+2])
	d, e, f := float64(n.at[i]), float64(n.at[i+1]), float64(n.at[i+2])
	g, h, k := float64(n.down[i]), float64(n.down[i+1]), float64(n.down[i+2])
	centre := e - e // 0, or NaN where the cell itself is missing
	east = (c + (f + f) + k) - (a + (d + d) + g) + centre
	north = (a + (b + b) + c) - (g + (h + h) + k) + centre
	return east, north
}

// length is the length of a vector. The products are rounded before they are
// added, so that a fused multiply-add cannot change a bit.
func length(x, y float64) float64 { return math.Sqrt(float64(x*x) + float64(y*y)) }
