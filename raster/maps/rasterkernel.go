package maps

import (
	"math"
	"slices"

	"likelyground/raster"
)

// resample gives the cells w of dst their values from the loaded block.
func (r *rasterReader) resample(p *partReader, dst raster.Tile, w raster.Window) {
	for row := w.Row; row < w.EndRow(); row++ {
		at := dst.Index(w.Col, row)
		if dst.Codes != nil {
			r.resampleCodes(p, dst.Codes[at:at+w.Cols], w, row)
		} else {
			r.resampleValues(p, dst.Values[at:at+w.Cols], w, row)
		}
	}
}

func (r *rasterReader) resampleValues(p *partReader, out []float32, w raster.Window, row int) {
	b := &r.block
	switch {
	case p.part.shift != nil:
		from, to, at := b.sameRow(p.part.shift, w, row)
		setAll(out[:from], b.beyond)
		copy(out[from:to], b.values[at:])
		setAll(out[to:], b.beyond)
	case p.part.refined():
		r.position(p, w, row, 1, 0)
		b.bilinear(out, r.cols, r.rows)
	default:
		r.meanRow(p, out, w, row)
	}
}

func (r *rasterReader) resampleCodes(p *partReader, out []int32, w raster.Window, row int) {
	b := &r.block
	switch {
	case p.part.shift != nil:
		from, to, at := b.sameRow(p.part.shift, w, row)
		setAll(out[:from], b.beyondCode)
		copy(out[from:to], b.codes[at:])
		setAll(out[to:], b.beyondCode)
	case p.part.refined():
		r.position(p, w, row, 1, 0)
		for i := range out {
			out[i] = b.code(r.cols[i], r.rows[i])
		}
	default:
		r.majorityRow(p, out, w, row)
	}
}

// sameRow returns which cells of a grid row, counted from w.Col, coincide
// with cells of the block, and where in its data these begin.
func (b *block) sameRow(shift *[2]int, w raster.Window, row int) (from, to, at int) {
	line := raster.Window{Col: w.Col + shift[0], Row: row + shift[1], Cols: w.Cols, Rows: 1}
	hit := line.Clip(b.Window)
	if hit.Empty() {
		return 0, 0, 0
	}
	from = hit.Col - line.Col
	return from, from + hit.Cols, b.Index(hit.Col, hit.Row)
}

// inside tells whether a position's cell and all its neighbours are in the
// block. It is false for NaN.
func (b *block) inside(col, row float64) bool {
	return col >= b.lowCol && col < b.highCol && row >= b.lowRow && row < b.highRow
}

// hold returns where in the block's data the source cell lies that holds a
// position inside the block.
func (b *block) hold(col, row float64) int {
	return (int(math.Floor(row+raster.Snap))-b.Row)*b.Cols + int(math.Floor(col+raster.Snap)) - b.Col
}

// outside returns the value of a position that is not inside the block. Such
// a position must lie outside the part, or nowhere.
func (b *block) outside(col, row float64) (float32, int32) {
	if col != col || row != row {
		return raster.Missing, raster.MissingCode
	}
	e := b.extent
	b.lost = b.lost || col+raster.Snap >= float64(e.Col) && row+raster.Snap >= float64(e.Row) &&
		col+raster.Snap < float64(e.EndCol()) && row+raster.Snap < float64(e.EndRow())
	return b.beyond, b.beyondCode
}

// code returns the class of the source cell that holds a position.
func (b *block) code(col, row float64) int32 {
	if b.inside(col, row) {
		return b.codes[b.hold(col, row)]
	}
	_, c := b.outside(col, row)
	return c
}

// between returns the index of the source cell whose centre lies left of (or
// above) a position, and how far the position is on the way to the next
// centre. A position within raster.Snap of a centre lies on it.
func between(p float64) (cell int, part float64) {
	p -= 0.5
	low := math.Floor(p + raster.Snap)
	part = p - low
	if part < raster.Snap {
		part = 0
	}
	return int(low), part
}

// square is the ground between four source cell centres of known values.
type square struct {
	col, row     float64 // its north-western cell
	nw, sw       float64 // the values in the west
	north, south float64 // how much they rise towards the east
}

// within returns the positions inside the block that lie in the square
// whatever the rounding: from (c0, r0) to below (c1, r1).
func (b *block) within(q square) (c0, r0, c1, r1 float64) {
	return max(q.col+0.5, b.lowCol), max(q.row+0.5, b.lowRow),
		min(q.col+1.5-2*raster.Snap, b.highCol), min(q.row+1.5-2*raster.Snap, b.highRow)
}

// fill interpolates at the first positions that lie in the square, and
// returns how many they are.
func (b *block) fill(q square, out []float32, cols, rows []float64) int {
	c0, r0, c1, r1 := b.within(q)
	cols, rows = cols[:len(out)], rows[:len(out)]
	for i := range out {
		c, r := cols[i], rows[i]
		if !(c >= c0 && c < c1 && r >= r0 && r < r1) {
			return i
		}
		out[i] = q.at(c-0.5-q.col, r-0.5-q.row)
	}
	return len(out)
}

// at interpolates at a place counted from the north-western centre.
func (q square) at(x, y float64) float32 {
	if x < raster.Snap {
		x = 0
	}
	if y < raster.Snap {
		y = 0
	}
	north := q.nw + float64(x*q.north)
	south := q.sw + float64(x*q.south)
	return float32(north + float64(y*(south-north)))
}

// bilinear interpolates between source cell centres, with weights that are
// shared out anew where neighbours are unknown. The result is unknown where
// the source cell that holds the position is. Neighbouring positions mostly
// lie in one square, whose values are fetched once.
func (b *block) bilinear(out []float32, cols, rows []float64) {
	cols, rows = cols[:len(out)], rows[:len(out)]
	for i := 0; i < len(out); {
		c, r := cols[i], rows[i]
		if !b.inside(c, r) {
			out[i], _ = b.outside(c, r)
			i++
			continue
		}
		if v := b.values[b.hold(c, r)]; v != v {
			out[i] = v
			i++
			continue
		}
		c0, x := between(c)
		r0, y := between(r)
		at := (r0-b.Row)*b.Cols + c0 - b.Col
		top, low := b.values[at:at+2], b.values[at+b.Cols:at+b.Cols+2]
		nw, ne, sw, se := float64(top[0]), float64(top[1]), float64(low[0]), float64(low[1])
		if s := nw + ne + sw + se; s != s {
			out[i] = shared(nw, ne, sw, se, x, y)
			i++
			continue
		}
		q := square{float64(c0), float64(r0), nw, sw, ne - nw, se - sw}
		out[i] = q.at(x, y)
		i++
		i += b.fill(q, out[i:], cols[i:], rows[i:])
	}
}

// shared is the bilinear mean of the known ones of four values.
func shared(nw, ne, sw, se, x, y float64) float32 {
	values := [4]float64{nw, ne, sw, se}
	weights := [4]float64{float64((1 - x) * (1 - y)), float64(x * (1 - y)), float64((1 - x) * y), float64(x * y)}
	sum, all := 0.0, 0.0
	for i, v := range values {
		if weights[i] > 0 && v == v {
			sum += float64(weights[i] * v)
			all += weights[i]
		}
	}
	return float32(sum / all)
}

// meanRow gives each cell the mean of the known ones among its k × k points,
// in the order of the points.
func (r *rasterReader) meanRow(p *partReader, out []float32, w raster.Window, row int) {
	b, k := &r.block, p.part.points
	r.sum, r.count = sized(r.sum, len(out)), sized(r.count, len(out))
	setAll(r.sum, 0)
	setAll(r.count, 0)
	r.prepare(p, w, row)
	for j := range k {
		start, places := r.locate(p, w, row, j)
		values := b.values[start:]
		for i := range out {
			sum, n := r.sum[i], r.count[i]
			for _, at := range places[i*k : i*k+k] {
				v := raster.Missing
				if at >= 0 {
					v = values[at]
				} else if at == outOfMap {
					v = b.beyond
				}
				if v == v {
					sum += float64(v)
					n++
				}
			}
			r.sum[i], r.count[i] = sum, n
		}
	}
	for i := range out {
		if n := int(r.count[i]); n > 0 && 2*n >= k*k {
			out[i] = float32(r.sum[i] / float64(n))
		} else {
			out[i] = raster.Missing
		}
	}
}

// majorityRow gives each cell the most frequent known class among its k × k
// points, the lowest code where several are as frequent.
func (r *rasterReader) majorityRow(p *partReader, out []int32, w raster.Window, row int) {
	b, k := &r.block, p.part.points
	r.codes = sized(r.codes, len(out)*k*k)
	r.prepare(p, w, row)
	for j := range k {
		start, places := r.locate(p, w, row, j)
		known := b.codes[start:]
		for i := range out {
			codes := r.codes[(i*k+j)*k:][:k]
			for m, at := range places[i*k : i*k+k] {
				switch {
				case at >= 0:
					codes[m] = known[at]
				case at == outOfMap:
					codes[m] = b.beyondCode
				default:
					codes[m] = raster.MissingCode
				}
			}
		}
	}
	for i := range out {
		out[i] = r.votes.winner(r.codes[i*k*k:][:k*k])
	}
}

// Points in r.at that are not in the block: they lie outside the map, or have
// no place in its coordinate reference system at all.
const (
	outOfMap = -1
	nowhere  = -2
)

// prepare readies [rasterReader.locate] for the points of a row of cells.
// Where columns do not depend on rows they are found once.
func (r *rasterReader) prepare(p *partReader, w raster.Window, row int) {
	if !p.part.upright() {
		return
	}
	b := &r.block
	r.position(p, w, row, p.part.points, 0)
	r.line = sized(r.line, len(r.cols))
	for i, c := range r.cols {
		if c >= b.lowCol && c < b.highCol {
			r.line[i] = int32(int(math.Floor(c+raster.Snap)) - b.Col)
			continue
		}
		r.line[i] = outOfMap
		b.lost = b.lost || c+raster.Snap >= float64(b.extent.Col) && c+raster.Snap < float64(b.extent.EndCol())
	}
}

// locate finds where in the block's data the points of part row j lie: start
// plus what is in places, where that is not below 0.
func (r *rasterReader) locate(p *partReader, w raster.Window, row, j int) (start int, places []int32) {
	b, k := &r.block, p.part.points
	if !p.part.upright() {
		r.position(p, w, row, k, j)
		r.at = sized(r.at, len(r.cols))
		b.places(r.at, r.cols, r.rows)
		return 0, r.at
	}
	one := w
	one.Cols = 1
	r.position(p, one, row, k, j)
	y := r.rows[0]
	if y >= b.lowRow && y < b.highRow {
		return (int(math.Floor(y+raster.Snap)) - b.Row) * b.Cols, r.line
	}
	b.lost = b.lost || y+raster.Snap >= float64(b.extent.Row) && y+raster.Snap < float64(b.extent.EndRow())
	r.at = sized(r.at, len(r.line))
	setAll(r.at, outOfMap)
	return 0, r.at
}

// places finds where in the block's data the source cells lie that hold
// positions.
func (b *block) places(at []int32, cols, rows []float64) {
	cols, rows = cols[:len(at)], rows[:len(at)]
	for i := range at {
		c, r := cols[i], rows[i]
		if b.inside(c, r) {
			at[i] = int32(b.hold(c, r))
			continue
		}
		b.outside(c, r)
		at[i] = outOfMap
		if c != c {
			at[i] = nowhere
		}
	}
}

// votes counts classes; its buffers are used again.
type votes struct {
	codes []int32
	count []int
}

// winner returns the most frequent known code, the lowest of equals, or
// raster.MissingCode when fewer than half of the points are known.
func (v *votes) winner(points []int32) int32 {
	v.codes, v.count = v.codes[:0], v.count[:0]
	known, last := 0, -1
	for _, c := range points {
		if c == raster.MissingCode {
			continue
		}
		known++
		if last < 0 || v.codes[last] != c {
			last = v.entry(c)
		}
		v.count[last]++
	}
	if known == 0 || 2*known < len(points) {
		return raster.MissingCode
	}
	best := 0
	for i, n := range v.count {
		if n > v.count[best] || n == v.count[best] && v.codes[i] < v.codes[best] {
			best = i
		}
	}
	return v.codes[best]
}

// entry returns the place of a code among the counted ones.
func (v *votes) entry(c int32) int {
	if i := slices.Index(v.codes, c); i >= 0 {
		return i
	}
	v.codes = append(v.codes, c)
	v.count = append(v.count, 0)
	return len(v.codes) - 1
}
