package nearby

import "encoding/binary"

// counter counts, for each cell of a tile, the marked cells within a disc.
//
// Going down one row, each column of the disc gains the cell below its foot
// and loses the one at its head, so a count costs two steps a column of the
// disc. Counts are kept in four 16-bit lanes of a uint64 where they fit.
type counter struct {
	disc  Disc
	wide  bool     // counts need more than 16 bits
	marks []byte   // 16 bits a cell, little-endian, rows of stride cells
	sums  []uint64 // of the present row, four cells each
	gain  [][2]int // for each column of the disc: where its next cell and its last one lie, as row offsets

	stride int
	wideAt []uint32
}

// lanes is how many cells one step of the inner loop counts; rows are padded
// to whole steps.
const lanes = 16

func newCounter(d Disc) *counter {
	d = d.plain()
	return &counter{disc: d, wide: d.cells+2*d.rx+1 > 0xFFFF}
}

// start readies the counter for tiles of a size and returns a row for the
// marks of each source row, in the order of rows: two bytes a cell.
func (c *counter) start(cols, rows int) {
	reach := c.disc.Reach()
	c.stride = (cols+lanes-1)/lanes*lanes + 2*reach
	c.marks = room(c.marks, 2*c.stride*(rows+2*reach))
	clear(c.marks)
	padded := c.stride - 2*reach
	c.sums = room(c.sums, padded/4)
	clear(c.sums)
	if c.wide {
		c.wideAt = room(c.wideAt, padded)
		clear(c.wideAt)
	}
}

// row returns the marks of a source row, counted from the first.
func (c *counter) row(i int) []byte { return c.marks[2*c.stride*i : 2*c.stride*(i+1)] }

// first sums up the discs of the tile's first row.
func (c *counter) first() {
	reach := c.disc.Reach()
	for i, tall := range c.disc.tall {
		col := reach - c.disc.rx + i
		for r := reach - tall; r <= reach+tall; r++ {
			c.add(c.row(r)[2*col:])
		}
	}
}

// add adds a row of marks to the sums.
func (c *counter) add(marks []byte) {
	if c.wide {
		for i := range c.wideAt {
			c.wideAt[i] += uint32(marks[2*i])
		}
		return
	}
	for i := range c.sums {
		c.sums[i] += binary.LittleEndian.Uint64(marks[8*i:])
	}
}

// next moves the sums down from tile row at-1 to tile row at.
func (c *counter) next(at int) {
	reach := c.disc.Reach()
	c.gain = c.gain[:0]
	for i, tall := range c.disc.tall {
		col := reach - c.disc.rx + i
		in := 2 * ((at+reach+tall)*c.stride + col)
		out := 2 * ((at+reach-1-tall)*c.stride + col)
		c.gain = append(c.gain, [2]int{in, out})
	}
	if c.wide {
		c.nextWide()
		return
	}
	for i := 0; i+4 <= len(c.sums); i += 4 {
		s := c.sums[i : i+4 : i+4]
		a, b, d, e := s[0], s[1], s[2], s[3]
		off := 8 * i
		for _, g := range c.gain {
			in := c.marks[g[0]+off:][:32]
			out := c.marks[g[1]+off:][:32]
			a += binary.LittleEndian.Uint64(in[0:8]) - binary.LittleEndian.Uint64(out[0:8])
			b += binary.LittleEndian.Uint64(in[8:16]) - binary.LittleEndian.Uint64(out[8:16])
			d += binary.LittleEndian.Uint64(in[16:24]) - binary.LittleEndian.Uint64(out[16:24])
			e += binary.LittleEndian.Uint64(in[24:32]) - binary.LittleEndian.Uint64(out[24:32])
		}
		s[0], s[1], s[2], s[3] = a, b, d, e
	}
}

// nextWide is next for counts of more than 16 bits.
func (c *counter) nextWide() {
	for _, g := range c.gain {
		in, out := c.marks[g[0]:], c.marks[g[1]:]
		for i := range c.wideAt {
			c.wideAt[i] += uint32(in[2*i]) - uint32(out[2*i])
		}
	}
}

// at returns the count of the i-th cell of the present row.
func (c *counter) at(i int) int {
	if c.wide {
		return int(c.wideAt[i])
	}
	return int(uint16(c.sums[i>>2] >> (16 * (i & 3))))
}

// room returns a slice of n elements, b where it is large enough.
func room[T any](b []T, n int) []T {
	if cap(b) < n {
		return make([]T, n)
	}
	return b[:n]
}
