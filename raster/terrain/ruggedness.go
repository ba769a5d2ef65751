package terrain

import (
	"math"

	"likelyground/raster"
)

// Rugged says how the heights around a cell make its ruggedness.
type Rugged int

const (
	// Riley is the root of the sum of the eight squared differences (Riley,
	// DeGloria & Elliot 1999, A terrain ruggedness index that quantifies
	// topographic heterogeneity, Intermountain Journal of Sciences 5:23–27).
	Riley Rugged = iota
	// Wilson is the mean of the eight differences without their sign (Wilson,
	// O'Connell, Brown, Guinan & Grehan 2007, Multiscale terrain analysis of
	// multibeam bathymetry data, Marine Geodesy 30:3–35).
	Wilson
)

// Ruggedness sets dst to how unlike the heights of src are to those of the
// eight cells around, in their own unit. It depends on the cell: on an even
// slope twice the cell makes twice the ruggedness.
func Ruggedness(dst, src raster.Tile, r Rugged) {
	of := riley
	if r == Wilson {
		of = wilson
	}
	for row := dst.Row; row < dst.EndRow(); row++ {
		of(dst.ValueRow(row), src.ValueRow(row-1), src.ValueRow(row), src.ValueRow(row+1))
	}
}

func riley(out, up, at, down []float32) {
	n := len(out)
	up, at, down = up[:n+2], at[:n+2], down[:n+2]
	for i := range out {
		z := float64(at[i+1])
		a, b, c := squared(up[i], z), squared(up[i+1], z), squared(up[i+2], z)
		d, e := squared(at[i], z), squared(at[i+2], z)
		f, g, h := squared(down[i], z), squared(down[i+1], z), squared(down[i+2], z)
		out[i] = float32(math.Sqrt(((a + b) + (c + d)) + ((e + f) + (g + h))))
	}
}

func squared(v float32, z float64) float64 {
	d := float64(v) - z
	return float64(d * d)
}

func wilson(out, up, at, down []float32) {
	n := len(out)
	up, at, down = up[:n+2], at[:n+2], down[:n+2]
	for i := range out {
		z := float64(at[i+1])
		a, b, c := apart(up[i], z), apart(up[i+1], z), apart(up[i+2], z)
		d, e := apart(at[i], z), apart(at[i+2], z)
		f, g, h := apart(down[i], z), apart(down[i+1], z), apart(down[i+2], z)
		out[i] = float32((((a + b) + (c + d)) + ((e + f) + (g + h))) / 8)
	}
}

func apart(v float32, z float64) float64 { return math.Abs(float64(v) - z) }
