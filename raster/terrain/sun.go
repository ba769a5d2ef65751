package terrain

import (
	"math"

	"likelyground/raster"
)

// Lie tells where on the earth the cells of a grid lie and how the grid is
// turned there. One is not for two goroutines.
type Lie interface {
	// Row sets, for the cells of a row from col on, the sine of the latitude
	// and the cosine and sine of the angle, clockwise, from true north to the
	// grid's north. All are NaN where there is no earth. The slices have one
	// length.
	Row(col, row int, sinLat, cosTurn, sinTurn []float64)
}

// sunlit is what both kernels of sunshine share: for strip after strip of
// cells, which way the ground leans and where it lies.
type sunlit struct {
	lie                          Lie
	east, north                  [strip]float64 // rise over run to the grid's east and north
	sinLat, cosTurn, sinTurn     [strip]float64
	leanEast, leanNorth, upright [strip]float64
}

// fill hands each strip of dst to turn once its arrays are set.
func (s *sunlit) fill(dst, src raster.Tile, dx, dy float64, turn func(out []float32)) {
	kx, ky := 1/(8*dx), 1/(8*dy)
	for row := dst.Row; row < dst.EndRow(); row++ {
		up, at, down := src.ValueRow(row-1), src.ValueRow(row), src.ValueRow(row+1)
		out := dst.ValueRow(row)
		for from := 0; from < len(out); from += strip {
			part := out[from:min(from+strip, len(out))]
			n := len(part)
			gradients(s.east[:n], s.north[:n], up[from:], at[from:], down[from:], kx, ky)
			s.lie.Row(dst.Col+from, row, s.sinLat[:n], s.cosTurn[:n], s.sinTurn[:n])
			s.normals(n)
			turn(part)
		}
	}
}

// normals sets, for n cells, the upright of the ground: a vector of length 1
// with its parts to true east and north and up.
func (s *sunlit) normals(n int) {
	x, y, c, t := s.east[:n], s.north[:n], s.cosTurn[:n], s.sinTurn[:n]
	e, m, u := s.leanEast[:n], s.leanNorth[:n], s.upright[:n]
	for i := range u {
		up := 1 / math.Sqrt(1+squaredLength(x[i], y[i]))
		e[i] = 0 - (float64(x[i]*c[i])+float64(y[i]*t[i]))*up
		m[i] = 0 - (float64(y[i]*c[i])-float64(x[i]*t[i]))*up
		u[i] = up
	}
}

// Equation is one of the three of McCune & Keon (2002, Equations for potential
// annual direct incident radiation and heat load, Journal of Vegetation
// Science 13:603–606), fitted to tables of a year's direct radiation on
// slopes of the northern hemisphere. Where they hold is from memory: all to
// 60° north, the first two from the equator and the third from 30° on; the
// first on any slope, the others to 60°.
type Equation int

// The equations, by their numbers in the paper.
const (
	First  Equation = 1
	Second Equation = 2
	Third  Equation = 3
)

// Warmest says which way the slopes face that count as the warmest.
type Warmest int

const (
	// Southwest turns the year's radiation so that afternoons are warmer than
	// mornings: heat load.
	Southwest Warmest = iota
	// South leaves it as it falls: potential direct incident radiation.
	South
)

// coefficients of an equation: R, or its logarithm, is one + the others times
// the products that they are named for, of the latitude L, slope S and folded
// aspect A.
type coefficients struct {
	one, cosLcosS, cosAsinSsinL, cosAsinS, sinLsinS, sinAsinS float64
	log                                                       bool
	lowest, steepest                                          float64 // sine of the latitude, cosine of the slope
}

const northernmost = 0.8660254037844387 // sine of 60 degrees

var equations = map[Equation]coefficients{
	First:  {one: -1.467, cosLcosS: 1.582, cosAsinSsinL: -1.5, sinLsinS: -0.262, sinAsinS: 0.607, log: true},
	Second: {one: -1.236, cosLcosS: 1.35, cosAsinSsinL: -1.376, sinLsinS: -0.331, sinAsinS: 0.375, log: true, steepest: 0.5},
	Third:  {one: 0.339, cosLcosS: 0.808, cosAsinS: -0.482, sinLsinS: -0.196, lowest: 0.5, steepest: 0.5},
}

// HeatLoad works out the heat load of slopes; see [Equation]. Aspects are from
// true north. It is not for two goroutines.
type HeatLoad struct {
	sunlit
	coefficients
	warmest Warmest
}

// NewHeatLoad returns a HeatLoad by one of the three equations.
func NewHeatLoad(e Equation, w Warmest, l Lie) *HeatLoad {
	return &HeatLoad{sunlit{lie: l}, equations[e], w}
}

// Values sets dst to the heat load of src, from about 0 to 1.26 in the
// paper's unit, MJ/cm² in a year; missing where the equation does not hold.
func (h *HeatLoad) Values(dst, src raster.Tile, dx, dy float64) { h.fill(dst, src, dx, dy, h.turn) }

func (h *HeatLoad) turn(out []float32) {
	n := len(out)
	e, m, u, l := h.leanEast[:n], h.leanNorth[:n], h.upright[:n], h.sinLat[:n]
	for i := range out {
		sinL, cosS := l[i], u[i]
		if !(sinL >= h.lowest && sinL <= northernmost && cosS >= h.steepest) {
			out[i] = raster.Missing
			continue
		}
		out[i] = float32(h.at(sinL, cosS, e[i], m[i]))
	}
}

// at works out one cell. The folded aspect is the angle from the coldest
// direction, north or northeast, 0 to 180 degrees: its cosine times sin S is
// how far the ground leans that way, its sine how far it leans across.
func (h *HeatLoad) at(sinL, cosS, east, north float64) float64 {
	cosL, sinS := math.Sqrt(1-float64(sinL*sinL)), math.Sqrt(squaredLength(east, north))
	toCold, across := north, math.Abs(east)
	if h.warmest == Southwest {
		toCold, across = (east+north)*(math.Sqrt2/2), math.Abs(east-north)*(math.Sqrt2/2)
	}
	v := h.one + float64(h.cosLcosS*cosL*cosS) + float64(h.cosAsinSsinL*toCold*sinL) +
		float64(h.cosAsinS*toCold) + float64(h.sinLsinS*sinL*sinS) + float64(h.sinAsinS*across)
	if h.log {
		return exp(v)
	}
	return v
}
