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
// Huttenlocher 2012); on oblong cells a search outward along the row.
type Distance struct {
	dx, dy, limit float64
	rx, ry        int
	table         []float32 // metres by squared cells, square cells only

	kinds []uint8
	near  []uint16 // rows to the nearest member in the column, for each row of the tile
	since []uint16
	sites []site
}

// site is a column of the present row that has a member, and the first column
// from which it is nearer than the sites before it.
type site struct{ col, squared, from int }

// none is a column without a member within the limit.
const none = math.MaxUint16

// maxTable bounds the size of the table of roots.
const maxTable = 1 << 18

// NewDistance returns a Distance of cells of dx × dy metres with a limit in
// metres, at most 65 000 cells.
func NewDistance(dx, dy, limit float64) *Distance {
	r := limit * (1 + rim)
	d := &Distance{dx: dx, dy: dy, limit: limit, rx: int(r / dx), ry: min(int(r/dy), none-2)}
	if most := float64(r/dx) * float64(r/dx); dx == dy && most < maxTable {
		for i := range int(most) + 1 {
			d.table = append(d.table, float32(min(math.Sqrt(float64(i))*dx, limit)))
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
	any := d.classify(src, member)
	if any {
		d.columns(dst, src)
	}
	for row := range dst.Rows {
		out := dst.ValueRow(dst.Row + row)
		if any {
			d.row(out, row, src.Cols)
		} else {
			d.fill(out)
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

func (d *Distance) fill(out []float32) {
	far := float32(d.limit)
	for i := range out {
		out[i] = far
	}
}

// classify notes what each source cell is; it returns whether any is a member.
func (d *Distance) classify(src raster.Tile, member *raster.CodeTable[uint8]) bool {
	d.kinds = room(d.kinds, len(src.Codes))
	any := uint8(0)
	for i, code := range src.Codes {
		k := member.At(code)
		d.kinds[i] = k
		any |= k & Yes
	}
	return any != 0
}

// columns sets near: for each row of the tile and each source column, how
// many rows away the nearest member is.
func (d *Distance) columns(dst, src raster.Tile) {
	cols, reach := src.Cols, d.Reach()
	d.near = room(d.near, dst.Rows*cols)
	d.since = room(d.since, cols)
	far := uint16(d.ry + 1)
	for i := range d.since {
		d.since[i] = far
	}
	for row := range dst.Rows + reach { // downward
		d.step(row, cols, far)
		if row >= reach {
			copy(d.near[(row-reach)*cols:], d.since)
		}
	}
	for i := range d.since {
		d.since[i] = far
	}
	for row := src.Rows - 1; row >= reach; row-- { // upward
		d.step(row, cols, far)
		if row < reach+dst.Rows {
			near := d.near[(row-reach)*cols:][:cols]
			for i, s := range d.since {
				near[i] = min(near[i], s)
				if near[i] >= far {
					near[i] = none
				}
			}
		}
	}
}

// step carries since over one more source row.
func (d *Distance) step(row, cols int, far uint16) {
	kinds := d.kinds[row*cols:][:cols]
	since := d.since[:cols]
	for i, k := range kinds {
		s := min(since[i]+1, far)
		if k == Yes {
			s = 0
		}
		since[i] = s
	}
}

// row sets one row of distances.
func (d *Distance) row(out []float32, row, cols int) {
	near := d.near[row*cols:][:cols]
	if d.dx != d.dy {
		d.search(out, near)
		return
	}
	d.envelope(near, len(out))
	if len(d.sites) == 0 {
		d.fill(out)
		return
	}
	reach := d.Reach()
	at := 0
	for i := range out {
		col := i + reach
		for at+1 < len(d.sites) && d.sites[at+1].from <= col {
			at++
		}
		s := &d.sites[at]
		out[i] = d.metres((col-s.col)*(col-s.col) + s.squared)
	}
}

// metres turns a squared number of cells into a distance.
func (d *Distance) metres(squared int) float32 {
	if squared < len(d.table) {
		return d.table[squared]
	}
	if d.table != nil {
		return float32(d.limit)
	}
	return float32(min(math.Sqrt(float64(squared))*d.dx, d.limit))
}

// envelope finds the sites that are nearest somewhere among the columns of
// the tile, and where each begins to be.
func (d *Distance) envelope(near []uint16, cols int) {
	sites := d.sites[:0]
	for col, rows := range near {
		if rows == none {
			continue
		}
		s := site{col, int(rows) * int(rows), 0}
		for len(sites) > 0 {
			last := &sites[len(sites)-1]
			s.from = meet(last, &s)
			if s.from > last.from {
				break
			}
			sites = sites[:len(sites)-1]
		}
		if len(sites) == 0 {
			s.from = 0
		}
		sites = append(sites, s)
	}
	d.sites = sites
}

// meet returns the first column at which b, which lies right of a, is at
// least as near as a.
func meet(a, b *site) int {
	top := b.col*b.col - a.col*a.col + b.squared - a.squared
	bottom := 2 * (b.col - a.col)
	if top <= 0 {
		return 0
	}
	return (top + bottom - 1) / bottom
}

// search looks outward along a row of oblong cells, as long as a nearer
// member is possible.
func (d *Distance) search(out []float32, near []uint16) {
	reach := d.Reach()
	xx, yy := d.dx*d.dx, d.dy*d.dy
	most := d.limit * (1 + rim)
	most *= most
	for i := range out {
		best := math.Inf(1)
		for away := 0; away <= d.rx; away++ {
			x := float64(away*away) * xx
			if x >= best {
				break
			}
			for _, col := range [2]int{i + reach - away, i + reach + away} {
				if rows := int(near[col]); rows != none {
					best = min(best, x+float64(float64(rows*rows)*yy))
				}
			}
		}
		out[i] = float32(d.limit)
		if best <= most {
			out[i] = float32(min(math.Sqrt(best), d.limit))
		}
	}
}
