package nearby

import (
	"math"

	"likelyground/raster"
)

// Mean works out the mean of a quantity within a disc. It is not for two
// goroutines.
type Mean struct {
	disc   Disc
	scaled []int64 // of the source, in steps of 1/MeanSteps; 0 where missing
	known  *counter
	sums   []int64
}

// MeanSteps and MeanLimit bound what a Mean adds up: values count in whole
// steps of 1/MeanSteps, so that sums are exact and do not depend on their
// order, and a value of MeanLimit or more, either way, counts as missing.
const (
	MeanSteps = 1 << 24
	MeanLimit = 1 << 18
)

// NewMean returns a Mean for a disc of at most a million cells.
func NewMean(d Disc) *Mean { return &Mean{disc: d.plain(), known: newCounter(d)} }

// Values sets dst to the mean of the known values of src within the disc;
// missing where none is known. The window of src is dst's grown by the disc's
// reach.
func (m *Mean) Values(dst, src raster.Tile) {
	m.take(dst, src)
	reach := m.disc.Reach()
	m.sums = room(m.sums, dst.Cols)
	clear(m.sums)
	m.known.first()
	for row := range dst.Rows {
		if row > 0 {
			m.known.next(row)
		}
		for i, tall := range m.disc.tall {
			col := reach - m.disc.rx + i
			if row == 0 {
				for r := reach - tall; r <= reach+tall; r++ {
					m.add(src.Cols, r, col)
				}
				continue
			}
			m.move(src.Cols, row+reach+tall, row+reach-1-tall, col)
		}
		m.divide(dst.ValueRow(dst.Row + row))
	}
}

// take turns the source into whole steps.
func (m *Mean) take(dst, src raster.Tile) {
	m.known.start(dst.Cols, dst.Rows)
	m.scaled = room(m.scaled, len(src.Values))
	for row := range src.Rows {
		known := m.known.row(row)
		at := row * src.Cols
		for i, v := range src.ValueRow(src.Row + row) {
			m.scaled[at+i] = 0
			if v > -MeanLimit && v < MeanLimit { // not of NaN
				m.scaled[at+i] = int64(math.RoundToEven(float64(v) * MeanSteps))
				known[2*i] = 1
			}
		}
	}
}

// add adds a row of values, from a column on, to the sums.
func (m *Mean) add(cols, row, col int) {
	in := m.scaled[row*cols+col:]
	for i := range m.sums {
		m.sums[i] += in[i]
	}
}

// move adds one row of values and takes another one away.
func (m *Mean) move(cols, in, out, col int) {
	a, b := m.scaled[in*cols+col:], m.scaled[out*cols+col:]
	a, b = a[:len(m.sums)], b[:len(m.sums)]
	for i := range m.sums {
		m.sums[i] += a[i] - b[i]
	}
}

func (m *Mean) divide(out []float32) {
	for i := range out {
		n := m.known.at(i)
		if n == 0 {
			out[i] = raster.Missing
			continue
		}
		out[i] = float32(float64(m.sums[i]) / float64(n) / MeanSteps)
	}
}
