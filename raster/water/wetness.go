package water

import (
	"math"

	"likelyground/raster"
)

// LeastFall is the least gradient that wetness reckons with: on flatter ground
// tan b is taken to be this, since the index has no end towards level ground
// (common practice, no source for the number).
const LeastFall = 0.001

// contour is the length of contour that a cell's water crosses: the side of a
// square cell, the root of an oblong one's area.
func (w *Water) contour() float64 { return math.Sqrt(w.cellArea()) }

// wetness sets dst to ln(a / tan b): a is the specific area from amounts of
// the given worth, b the slope after Horn (1981) of the ground as it is. A cell
// with a missing neighbour is missing.
func (v *View) wetness(layer string, dst raster.Tile, one amount) error {
	v.base = sized(v.base, dst.Grow(1).Size())
	ground := raster.Tile{Window: dst.Grow(1), Values: v.base}
	ground.FillMissing()
	if err := v.keyed(groundLayer, ground); err != nil {
		return err
	}
	w := v.w
	worth := w.cellArea() / float64(one) / w.contour()
	kx, ky := 1/(8*w.ground.DX), 1/(8*w.ground.DY)
	return v.amounts(layer, dst.Window, func(at int, row []amount) {
		i := ground.Index(dst.Col+at%dst.Cols, dst.Row+at/dst.Cols)
		n := len(row)
		up, mid, down := ground.Values[i-ground.Cols-1:][:n+2], ground.Values[i-1:][:n+2], ground.Values[i+ground.Cols-1:][:n+2]
		out := dst.Values[at:][:n]
		for x, a := range row {
			if a == 0 {
				continue
			}
			fall2 := max(squaredFall(up[x:x+3:x+3], mid[x:x+3:x+3], down[x:x+3:x+3], kx, ky), LeastFall*LeastFall)
			area := float64(a&^cutMark) * worth
			out[x] = float32(0.5 * ln(float64(area*area)/fall2))
		}
	})
}

// squaredFall is the squared gradient after Horn (1981) in the middle of three
// rows of three; NaN where one of them is.
func squaredFall(up, at, down []float32, kx, ky float64) float64 {
	_, _, _ = up[2], at[2], down[2]
	nw, n, ne := float64(up[0]), float64(up[1]), float64(up[2])
	w, here, e := float64(at[0]), float64(at[1]), float64(at[2])
	sw, s, se := float64(down[0]), float64(down[1]), float64(down[2])
	x := ((ne - nw) + (se - sw) + 2*(e-w)) * kx
	y := ((sw - nw) + (se - ne) + 2*(s-n)) * ky
	return float64(x*x) + float64(y*y) + 0*here
}

// The natural logarithm, the same on every machine: the nearest of a table of
// 1/c and ln c for mantissas, and a short series from there; within 1e-14 for
// numbers that are not near 1, absolutely everywhere.

const lnBits = 8

var (
	lnInverse [1 << lnBits]float64
	lnTable   [1 << lnBits]float64
)

func init() {
	for i := range lnTable {
		c := 1 + (float64(i)+0.5)/(1<<lnBits)
		lnInverse[i] = math.Floor(0x1p20/c) * 0x1p-20
		lnTable[i] = -lnSeries(lnInverse[i])
	}
}

// lnSeries is ln x by the series of the area hyperbolic tangent.
func lnSeries(x float64) float64 {
	z := (x - 1) / (x + 1)
	z2, sum := float64(z*z), 0.0
	for k := 61; k >= 1; k -= 2 {
		sum = float64(sum*z2) + 1/float64(k)
	}
	return 2 * float64(z*sum)
}

// ln is the logarithm of a normal number above 0; NaN for NaN.
func ln(x float64) float64 {
	if x != x {
		return x
	}
	b := math.Float64bits(x)
	i := b >> (mantissa - lnBits) & (1<<lnBits - 1)
	m := math.Float64frombits(b&(1<<mantissa-1) | bias<<mantissa)
	t := float64(m*lnInverse[i]) - 1
	series := float64(t*t) * (float64(t*(1.0/3-float64(t*(0.25-float64(t*(0.2-float64(t*(1.0/6)))))))) - 0.5)
	return float64(float64(int(b>>mantissa)-bias)*math.Ln2) + lnTable[i] + (t + series)
}
