package nearby

import (
	"math"

	"likelyground/raster"
)

// Above sets dst to how much higher each cell of src is than the mean of the
// other known cells within the disc, the cell itself left out: relative
// position. It is missing where the cell is, or no other is known. The window
// of src is dst's grown by the disc's reach.
//
// The mean is worked out like that of Values, and taken from the cell's value
// before both are rounded to a float32.
func (m *Mean) Above(dst, src raster.Tile) {
	m.take(dst, src)
	reach := m.disc.Reach()
	for row := range dst.Rows {
		out := dst.ValueRow(dst.Row + row)
		missing, _ := m.missing.count(row)
		at := src.ValueRow(dst.Row + row)[reach:]
		own := m.whole.row(row + reach)[reach:]
		if m.wide {
			m.aboveWide(out, at, own, row, missing)
			continue
		}
		whole, step := m.whole.sum(row), math.Ldexp(1, -m.shift)
		for i := range out {
			out[i] = above(at[i], float64(whole[i]-own[i]), m.disc.cells-int(missing[i])-1, step)
		}
	}
}

func (m *Mean) aboveWide(out, at []float32, own []int64, row int, missing []uint32) {
	const step = 1.0 / (1 << stepBits)
	reach := m.disc.Reach()
	whole, rest, ownRest := m.whole.sum(row), m.rest.sum(row), m.rest.row(row + reach)[reach:]
	for i := range out {
		sum := together(whole[i]-own[i], rest[i]-ownRest[i])
		out[i] = above(at[i], sum, m.disc.cells-int(missing[i])-1, step)
	}
}

// above is how much higher a value is than the mean of others, whose sum is
// in steps.
func above(v float32, sum float64, others int, step float64) float32 {
	if !(math.Abs(float64(v)) < MeanLimit) || others <= 0 {
		return raster.Missing
	}
	return float32(float64(v) - float64(sum/float64(others)*step))
}
