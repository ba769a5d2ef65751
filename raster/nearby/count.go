package nearby

import "encoding/binary"

// counter counts, for each cell of a tile, the marked cells within a disc,
// row after row. Going down one row, each column of the disc gains the cell
// below its foot and loses the one at its head, so that a count costs two
// steps a column of the disc; a step takes eight cells at once, as the bytes
// of a uint64.
type counter struct {
	disc   Disc
	stride int    // bytes from a row of marks to the next
	marks  []byte // 1 for a marked source cell, else 0
	inRow  []int  // number of marks of each source row
	inside int    // marks of the source rows that the present row sees
	counts []uint32
	blank  bool // counts are all 0
	gains  []int
	losses []int
}

// block is how many cells the innermost loop counts at a time; rows are
// padded to whole blocks. What is counted beyond a row's end is of no use.
const block = 64

// bias keeps each byte of a word of gains less losses at 0 or above, and
// bounds how many of either it may sum up.
const bias = 127

// evenBias is the bias in every byte.
const evenBias = bias * 0x0101010101010101

func newCounter(d Disc) *counter { return &counter{disc: d.plain()} }

// start readies the counter for a tile of a size. Then each source row is to
// be set.
func (c *counter) start(cols, rows int) {
	reach := c.disc.Reach()
	padded := (cols + block - 1) / block * block
	c.stride = padded + 2*reach
	c.marks = room(c.marks, c.stride*(rows+2*reach))
	c.inRow = room(c.inRow, rows+2*reach)
	c.counts = room(c.counts, padded)
	clear(c.counts)
	c.inside, c.blank = 0, true
}

// row returns the marks of a source row, counted from the first. Who sets
// them sets their number in inRow.
func (c *counter) row(i int) []byte { return c.marks[c.stride*i : c.stride*(i+1)] }

// count returns the counts of a tile row; asked for in the order of rows. any
// is false where all are 0.
func (c *counter) count(at int) (counts []uint32, any bool) {
	c.look(at)
	switch {
	case c.inside > 0 && at == 0:
		c.first()
	case c.inside > 0:
		c.next(at)
	case !c.blank:
		clear(c.counts)
	}
	c.blank = c.inside == 0
	return c.counts, !c.blank
}

// look moves inside to a tile row.
func (c *counter) look(at int) {
	seen := 2*c.disc.Reach() + 1
	if at > 0 {
		c.inside += c.inRow[at+seen-1] - c.inRow[at-1]
		return
	}
	for _, n := range c.inRow[:seen] {
		c.inside += n
	}
}

// first sums up the discs of the tile's first row.
func (c *counter) first() {
	c.gains = c.disc.all(c.gains[:0], c.stride)
	for from := 0; from < len(c.gains); from += bias {
		c.sweep(c.gains[from:min(from+bias, len(c.gains))], nil)
	}
}

// next moves the counts down from tile row at-1 to tile row at.
func (c *counter) next(at int) {
	c.gains, c.losses = c.disc.edges(c.gains[:0], c.losses[:0], at, c.stride)
	for from := 0; from < len(c.gains); from += bias {
		to := min(from+bias, len(c.gains))
		c.sweep(c.gains[from:to], c.losses[from:to])
	}
}

// sweep adds to the counts the rows of marks that begin at gains and takes
// away those at losses, at most bias of either.
func (c *counter) sweep(gains, losses []int) {
	var sums [block / 8]uint64
	for at := 0; at < len(c.counts); at += block {
		sum(&sums, c.marks[at:], gains, losses)
		counts := c.counts[at : at+block]
		for i, word := range sums {
			spread(counts[8*i:8*i+8], word)
		}
	}
}

// sum sets each byte of sums to bias, plus the bytes of marks from gains on,
// less those from losses on.
func sum(sums *[block / 8]uint64, marks []byte, gains, losses []int) {
	a, b, c, d := uint64(evenBias), uint64(evenBias), uint64(evenBias), uint64(evenBias)
	e, f, g, h := a, b, c, d
	for _, from := range gains {
		m := marks[from : from+block : from+block]
		a += binary.LittleEndian.Uint64(m[0:])
		b += binary.LittleEndian.Uint64(m[8:])
		c += binary.LittleEndian.Uint64(m[16:])
		d += binary.LittleEndian.Uint64(m[24:])
		e += binary.LittleEndian.Uint64(m[32:])
		f += binary.LittleEndian.Uint64(m[40:])
		g += binary.LittleEndian.Uint64(m[48:])
		h += binary.LittleEndian.Uint64(m[56:])
	}
	for _, from := range losses {
		m := marks[from : from+block : from+block]
		a -= binary.LittleEndian.Uint64(m[0:])
		b -= binary.LittleEndian.Uint64(m[8:])
		c -= binary.LittleEndian.Uint64(m[16:])
		d -= binary.LittleEndian.Uint64(m[24:])
		e -= binary.LittleEndian.Uint64(m[32:])
		f -= binary.LittleEndian.Uint64(m[40:])
		g -= binary.LittleEndian.Uint64(m[48:])
		h -= binary.LittleEndian.Uint64(m[56:])
	}
	*sums = [block / 8]uint64{a, b, c, d, e, f, g, h}
}

// spread adds the bytes of a word, less the bias, to eight counts.
func spread(counts []uint32, word uint64) {
	_ = counts[7]
	counts[0] += uint32(word&0xFF) - bias
	counts[1] += uint32(word>>8&0xFF) - bias
	counts[2] += uint32(word>>16&0xFF) - bias
	counts[3] += uint32(word>>24&0xFF) - bias
	counts[4] += uint32(word>>32&0xFF) - bias
	counts[5] += uint32(word>>40&0xFF) - bias
	counts[6] += uint32(word>>48&0xFF) - bias
	counts[7] += uint32(word>>56) - bias
}

// room returns a slice of n elements, b where it is large enough.
func room[T any](b []T, n int) []T {
	if cap(b) < n {
		return make([]T, n)
	}
	return b[:n]
}
