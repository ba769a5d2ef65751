package nearby

import (
	"math"
	"math/bits"

	"likelyground/raster"
)

// Mean works out the mean of a quantity within a disc. It is not for two
// goroutines.
//
// Values count in whole steps of 2^-40 of their unit, to which they are
// rounded (half to even): every float32 of 2^-17 or more, either way, is one
// as it stands. Their sum is exact, so it does not depend on any order; it is
// rounded to a float64 once, divided by the number of known cells, and rounded
// to the float32 that is kept.
type Mean struct {
	disc    Disc
	missing *counter

	// Where the values of a tile allow, whole counts in steps of 2^-shift and
	// rest is not used. Else whole counts in units and rest, below one unit,
	// in steps.
	wide        bool
	shift       int
	whole, rest adder
}

// MeanLimit bounds the values of a Mean: one of this size or more, either way,
// counts as missing.
const MeanLimit = 1 << stepBits

// stepBits: a unit has 2^stepBits steps.
const stepBits = 40

// NewMean returns a Mean for a disc of at most 2^22 cells.
func NewMean(d Disc) *Mean {
	d = d.plain()
	return &Mean{disc: d, missing: newCounter(d), whole: adder{disc: d}, rest: adder{disc: d}}
}

// Values sets dst to the mean of the known values of src within the disc;
// missing where none is known. The window of src is dst's grown by the disc's
// reach.
func (m *Mean) Values(dst, src raster.Tile) {
	m.take(dst, src)
	for row := range dst.Rows {
		out := dst.ValueRow(dst.Row + row)
		missing, _ := m.missing.count(row)
		whole := m.whole.sum(row)
		if m.wide {
			m.divideWide(out, whole, m.rest.sum(row), missing)
		} else {
			m.divide(out, whole, missing)
		}
	}
}

// take turns the source into whole steps and sums them up.
func (m *Mean) take(dst, src raster.Tile) {
	top := m.mark(dst, src)
	_, exponent := math.Frexp(top)
	m.shift = min(stepBits, 62-bits.Len(uint(m.disc.cells))-exponent)
	m.whole.start(dst.Cols, dst.Rows)
	m.wide = m.shift < 0 || !m.scale(src)
	if m.wide {
		m.rest.start(dst.Cols, dst.Rows)
		m.split(src)
		m.rest.run()
	}
	m.whole.run()
}

// mark notes which cells are missing and returns the largest known value,
// without its sign.
func (m *Mean) mark(dst, src raster.Tile) (top float64) {
	m.missing.start(dst.Cols, dst.Rows)
	limit := math.Float32bits(MeanLimit)
	largest := uint32(0)
	for row := range src.Rows {
		marks, holes := m.missing.row(row)[:src.Cols], 0
		for i, v := range src.ValueRow(src.Row + row) {
			marks[i] = 0
			size := math.Float32bits(v) &^ (1 << 31) // in the order of the values, NaN above all
			if size >= limit {
				marks[i] = 1
				holes++
				continue
			}
			largest = max(largest, size)
		}
		m.missing.inRow[row] = holes
	}
	return float64(math.Float32frombits(largest))
}

// steps returns the number of steps of a value, whole.
func steps(v float32) float64 { return math.RoundToEven(float64(v) * (1 << stepBits)) }

// scale sets whole in steps of 2^-shift; ok is false where some value is not
// whole in them.
func (m *Mean) scale(src raster.Tile) (ok bool) {
	down := math.Ldexp(1, m.shift-stepBits)
	for row := range src.Rows {
		to, missing := m.whole.row(row)[:src.Cols], m.missing.row(row)[:src.Cols]
		for i, v := range src.ValueRow(src.Row + row) {
			to[i] = 0
			if missing[i] == 0 {
				n := steps(v) * down
				to[i] = int64(n)
				if float64(to[i]) != n {
					return false
				}
			}
		}
	}
	return true
}

// split sets whole in units and rest in steps.
func (m *Mean) split(src raster.Tile) {
	for row := range src.Rows {
		whole, rest := m.whole.row(row)[:src.Cols], m.rest.row(row)[:src.Cols]
		missing := m.missing.row(row)[:src.Cols]
		for i, v := range src.ValueRow(src.Row + row) {
			whole[i], rest[i] = 0, 0
			if missing[i] == 0 {
				n := steps(v)
				units := math.Floor(n / (1 << stepBits))
				whole[i], rest[i] = int64(units), int64(n-float64(units*(1<<stepBits)))
			}
		}
	}
}

func (m *Mean) divide(out []float32, whole []int64, missing []uint32) {
	step := math.Ldexp(1, -m.shift)
	whole, missing = whole[:len(out)], missing[:len(out)]
	for i := range out {
		out[i] = quotient(float64(whole[i]), m.disc.cells-int(missing[i]), step)
	}
}

func (m *Mean) divideWide(out []float32, whole, rest []int64, missing []uint32) {
	const step = 1.0 / (1 << stepBits)
	for i := range out {
		out[i] = quotient(together(whole[i], rest[i]), m.disc.cells-int(missing[i]), step)
	}
}

func quotient(sum float64, known int, step float64) float32 {
	if known == 0 {
		return raster.Missing
	}
	return float32(sum / float64(known) * step)
}

// together returns the number of steps of whole units and the rest, which is
// not negative, rounded once.
func together(whole, rest int64) float64 {
	low, carry := bits.Add64(uint64(whole)<<stepBits, uint64(rest), 0)
	high := uint64(whole>>(64-stepBits)) + carry
	sign := 1.0
	if int64(high) < 0 {
		var borrow uint64
		low, borrow = bits.Sub64(0, low, 0)
		high, _ = bits.Sub64(0, high, borrow)
		sign = -1
	}
	if high == 0 {
		return sign * float64(low)
	}
	shift := bits.LeadingZeros64(high)
	top := high<<shift | low>>(64-shift)
	if low<<shift != 0 {
		top |= 1 // stands for all that follows
	}
	return sign * math.Ldexp(float64(top), 64-shift)
}
