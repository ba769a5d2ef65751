package nearby

import "encoding/binary"

// counter counts, for each cell of a tile, the marked cells within a disc.
//
// Going down one row, each column of the disc gains the cell below its foot
// and loses the one at its head, so a count costs two steps a column of the
// disc. What a row gains and loses is added up in the eight bytes of a
// uint64, the counts themselves in 16-bit lanes, those of the even cells
// apart from those of the odd ones; discs of more than 255 columns are
// counted one cell at a time.
type counter struct {
	disc  Disc
	wide  bool
	marks []byte // 0 or 1, rows of stride cells
	gain  []step // for each column of the disc

	stride    int
	even, odd []uint64 // counts of the present row, eight cells a pair
	each      []uint32 // the same, wide
}

// step says where, in the marks, a column of the disc gains and loses.
type step struct{ in, out int }

// lanes is how many cells one step of the inner loop counts; rows are padded
// to whole steps.
const lanes = 32

// evens masks the even bytes of eight.
const evens = 0x00FF00FF00FF00FF

func newCounter(d Disc) *counter {
	d = d.plain()
	return &counter{disc: d, wide: len(d.tall) > 255 || 2*d.ry+1 > 255}
}

// start readies the counter for tiles of a size.
func (c *counter) start(cols, rows int) {
	reach := c.disc.Reach()
	padded := (cols + lanes - 1) / lanes * lanes
	c.stride = padded + 2*reach
	c.marks = room(c.marks, c.stride*(rows+2*reach))
	clear(c.marks)
	c.even, c.odd = room(c.even, padded/8), room(c.odd, padded/8)
	clear(c.even)
	clear(c.odd)
	if c.wide {
		c.each = room(c.each, padded)
		clear(c.each)
	}
}

// row returns the marks of a source row, counted from the first.
func (c *counter) row(i int) []byte { return c.marks[c.stride*i : c.stride*(i+1)] }

// first sums up the discs of the tile's first row.
func (c *counter) first() {
	reach := c.disc.Reach()
	for i, tall := range c.disc.tall {
		col := reach - c.disc.rx + i
		if c.wide {
			for r := reach - tall; r <= reach+tall; r++ {
				c.addWide(c.row(r)[col:])
			}
			continue
		}
		for k := range c.even {
			var sum uint64 // at most 255 rows
			at := (reach-tall)*c.stride + col + 8*k
			for r := -tall; r <= tall; r++ {
				sum += binary.LittleEndian.Uint64(c.marks[at:])
				at += c.stride
			}
			c.even[k] += sum & evens
			c.odd[k] += sum >> 8 & evens
		}
	}
}

func (c *counter) addWide(marks []byte) {
	for i := range c.each {
		c.each[i] += uint32(marks[i])
	}
}

// next moves the counts down from tile row at-1 to tile row at.
func (c *counter) next(at int) {
	reach := c.disc.Reach()
	c.gain = c.gain[:0]
	for i, tall := range c.disc.tall {
		col := reach - c.disc.rx + i
		c.gain = append(c.gain, step{(at+reach+tall)*c.stride + col, (at+reach-1-tall)*c.stride + col})
	}
	if c.wide {
		c.nextWide()
		return
	}
	for k := 0; k+4 <= len(c.even); k += 4 {
		var in, out [4]uint64
		gain(c.marks[8*k:], c.gain, &in, &out)
		even, odd := c.even[k:k+4], c.odd[k:k+4]
		for j := range even {
			even[j] += in[j]&evens - out[j]&evens
			odd[j] += in[j]>>8&evens - out[j]>>8&evens
		}
	}
}

// gain adds up what 32 cells gain and lose.
func gain(marks []byte, steps []step, in, out *[4]uint64) {
	var a, b, c, d, e, f, g, h uint64
	for _, s := range steps {
		x, y := marks[s.in:][:32], marks[s.out:][:32]
		a += binary.LittleEndian.Uint64(x[0:8])
		b += binary.LittleEndian.Uint64(x[8:16])
		c += binary.LittleEndian.Uint64(x[16:24])
		d += binary.LittleEndian.Uint64(x[24:32])
		e += binary.LittleEndian.Uint64(y[0:8])
		f += binary.LittleEndian.Uint64(y[8:16])
		g += binary.LittleEndian.Uint64(y[16:24])
		h += binary.LittleEndian.Uint64(y[24:32])
	}
	*in, *out = [4]uint64{a, b, c, d}, [4]uint64{e, f, g, h}
}

// nextWide is next one cell at a time.
func (c *counter) nextWide() {
	for _, g := range c.gain {
		in, out := c.marks[g.in:], c.marks[g.out:]
		for i := range c.each {
			c.each[i] += uint32(in[i]) - uint32(out[i])
		}
	}
}

// at returns the count of the i-th cell of the present row.
func (c *counter) at(i int) int {
	if c.wide {
		return int(c.each[i])
	}
	pair := c.even
	if i&1 != 0 {
		pair = c.odd
	}
	return int(uint16(pair[i>>3] >> (8 * (i & 6))))
}

// counts sets out to the counts of the present row.
func (c *counter) counts(out []uint32) {
	if c.wide {
		copy(out, c.each)
		return
	}
	for k := range c.even {
		even, odd := c.even[k], c.odd[k]
		to := out[8*k:]
		if len(to) < 8 {
			for i := range to {
				to[i] = uint32(c.at(8*k + i))
			}
			return
		}
		to = to[:8]
		to[0], to[1] = uint32(even&0xFFFF), uint32(odd&0xFFFF)
		to[2], to[3] = uint32(even>>16&0xFFFF), uint32(odd>>16&0xFFFF)
		to[4], to[5] = uint32(even>>32&0xFFFF), uint32(odd>>32&0xFFFF)
		to[6], to[7] = uint32(even>>48), uint32(odd>>48)
	}
}

// room returns a slice of n elements, b where it is large enough.
func room[T any](b []T, n int) []T {
	if cap(b) < n {
		return make([]T, n)
	}
	return b[:n]
}
