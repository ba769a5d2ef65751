package nearby

import (
	"math"

	"likelyground/raster"
)

// Distance works out the exact Euclidean distance to the nearest cell of some
// classes, up to a limit. It is not for two goroutines.
//
// Columns first, then the lower envelope of parabolas along each row, in
// whole numbers (Meijster, Roerdink & Hesselink 2000; Felzenszwalb &
// Huttenlocher 2012). Squares are counted in cells where the cells are
// square; else in parts of which the longer side's square has 2^30 and the
// shorter one's the nearest whole number, which moves a distance by less than
// a float32 can tell unless one side is many times the other.
type Distance struct {
	limit  float64
	rx, ry int
	xx, yy int     // squares of the cell's sides, in parts
	metre  float64 // length whose square is one part
	table  []float32
	kinds  []uint8
	near   []uint16 // rows to the nearest member in the column, for each row of the tile
	since  []uint16
	sites  []site
}

// site is a column of the present row that has a member within the limit, or
// a run of columns whose member is in the row itself; the square of the rows
// to it, and the first column from which it is nearer than the sites before
// it.
type site struct{ left, right, squared, from int }

// maxTable bounds the size of the table of roots.
const maxTable = 1 << 18

// NewDistance returns a Distance of cells of dx × dy metres with a limit in
// metres, at most 15 000 cells either way.
func NewDistance(dx, dy, limit float64) *Distance {
	r := limit * (1 + rim)
	d := &Distance{limit: limit, rx: int(r / dx), ry: int(r / dy)}
	if dx != dy {
		long := max(dx, dy)
		parts := func(side float64) int { return int(math.Round(math.Ldexp(side*side/(long*long), 30))) }
		d.xx, d.yy, d.metre = parts(dx), parts(dy), math.Ldexp(long, -15)
		return d
	}
	d.xx, d.yy, d.metre = 1, 1, dx
	if most := float64(r/dx) * float64(r/dx); most < maxTable {
		for i := range int(most) + 1 {
			d.table = append(d.table, d.metres(i))
		}
	}
	return d
}

// Reach returns how many cells beyond a tile are looked at.
func (d *Distance) Reach() int { return max(d.rx, d.ry) }

// Classes sets dst to the distance in metres from each cell's centre to that
// of the nearest member cell of src, whose window is dst's grown by the
// reach; to the limit where no member is known within it. A cell that is
// itself missing is missing; other missing cells are no members.
func (d *Distance) Classes(dst, src raster.Tile, member *raster.CodeTable[uint8]) {
	d.to(Yes, dst, src, d.mark(src, member))
}

// to sets dst to the distance to the nearest marked cell of a kind, of which
// there are as many as n says.
func (d *Distance) to(kind uint8, dst, src raster.Tile, n [3]int) {
	any := n[kind] > 0
	if any {
		d.columns(kind, dst, src)
	}
	for row := range dst.Rows {
		out := dst.ValueRow(dst.Row + row)
		if any {
			d.row(out, row, src.Cols)
		} else {
			fill(out, float32(d.limit))
		}
		reach := d.Reach()
		kinds := d.kinds[(row+reach)*src.Cols+reach:]
		for i := range out {
			if kinds[i] == Missing {
				out[i] = raster.Missing
			}
		}
	}
}

// mark notes what each source cell is; it returns how many are of each kind.
func (d *Distance) mark(src raster.Tile, member *raster.CodeTable[uint8]) [3]int {
	d.kinds = room(d.kinds, len(src.Codes))
	return classify(d.kinds, src.Codes, member)
}

// columns sets near: for each row of the tile and each source column, how
// many rows away the nearest cell of a kind is; a number beyond ry where none
// is within the limit.
func (d *Distance) columns(kind uint8, dst, src raster.Tile) {
	cols, reach := src.Cols, d.Reach()
	d.near = room(d.near, dst.Rows*cols)
	d.since = room(d.since, cols)
	nearOf := func(row int) []uint16 { return d.near[row*cols:][:cols] }
	kindsOf := func(row int) []uint8 { return d.kinds[(row+reach)*cols:][:cols] }
	fill(d.since, uint16(d.ry+1))
	for row := -reach; row < 0; row++ { // downward
		step(d.since, d.since, kindsOf(row), kind)
	}
	above := d.since
	for row := range dst.Rows {
		step(nearOf(row), above, kindsOf(row), kind)
		above = nearOf(row)
	}
	fill(d.since, uint16(d.ry+1))
	for row := dst.Rows + reach - 1; row >= 0; row-- { // upward
		step(d.since, d.since, kindsOf(row), kind)
		if row < dst.Rows {
			nearest(nearOf(row), d.since)
		}
	}
}

// step sets since to the number of rows since the last cell of a kind, from
// that of the row before.
func step(since, before []uint16, kinds []uint8, kind uint8) {
	since, before = since[:len(kinds)], before[:len(kinds)]
	for i, k := range kinds {
		s := before[i] + 1
		if k == kind {
			s = 0
		}
		since[i] = s
	}
}

func nearest(near, since []uint16) {
	since = since[:len(near)]
	for i, s := range since {
		near[i] = min(near[i], s)
	}
}

// row sets one row of distances.
func (d *Distance) row(out []float32, row, cols int) {
	near := d.near[row*cols:][:cols]
	d.envelope(near)
	if len(d.sites) == 0 {
		fill(out, float32(d.limit))
		return
	}
	d.below(out)
}

// below reads the distances of a row of the tile off the lower envelope.
func (d *Distance) below(out []float32) {
	reach, col := d.Reach(), 0
	for i := range d.sites {
		s, to := &d.sites[i], len(out)
		if i+1 < len(d.sites) {
			to = min(to, d.sites[i+1].from-reach)
		}
		left, right, squared := s.left-reach, s.right-reach, s.squared
		for ; col < to; col++ {
			away := max(left-col, col-right, 0)
			out[col] = d.root(away*away*d.xx + squared)
		}
	}
}

// root turns a squared number of parts into a distance.
func (d *Distance) root(squared int) float32 {
	if squared < len(d.table) {
		return d.table[squared]
	}
	return d.metres(squared)
}

func (d *Distance) metres(squared int) float32 {
	return float32(min(math.Sqrt(float64(squared))*d.metre, d.limit))
}

// envelope finds the sites that are nearest somewhere in the row, and where
// each begins to be.
func (d *Distance) envelope(near []uint16) {
	d.sites = room(d.sites, len(near))
	sites, n := d.sites, 0
	before, limit := uint16(1), uint16(d.ry)
	for col, rows := range near {
		among := rows|before == 0
		before = rows
		if rows > limit {
			continue
		}
		if among {
			sites[n-1].right = col
			continue
		}
		s, from := site{left: col, right: col, squared: int(rows) * int(rows) * d.yy}, 0
		for n > 0 {
			last := &sites[n-1]
			from = d.meet(last, &s)
			if from > last.from {
				break
			}
			n--
			from = 0
		}
		s.from = from
		sites[n] = s
		n++
	}
	d.sites = sites[:n]
}

// meet returns the first column at which b, which lies right of a, is at
// least as near as a.
func (d *Distance) meet(a, b *site) int {
	top := (b.left*b.left-a.right*a.right)*d.xx + b.squared - a.squared
	bottom := 2 * (b.left - a.right) * d.xx
	switch {
	case top <= 0:
		return 0
	case bottom == 2: // side by side on square cells: the most frequent case, without a division
		return (top + 1) >> 1
	}
	return (top + bottom - 1) / bottom
}
