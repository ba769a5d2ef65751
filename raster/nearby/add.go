package nearby

// adder sums up, for each cell of a tile, the numbers within a disc, in the
// way of counter; but it goes down eight columns at a time, so that what it
// needs of the source stays at hand.
type adder struct {
	disc   Disc
	cols   int // of the tile, padded
	stride int // numbers from a source row to the next
	values []int64
	sums   []int64
	all    []int
	gains  []int
	losses []int
}

// addBlock is how many cells the innermost loop sums up at a time.
const addBlock = 8

// start readies the adder for a tile of a size. Then each source row is to be
// set, and run called.
func (a *adder) start(cols, rows int) {
	reach := a.disc.Reach()
	a.cols = (cols + addBlock - 1) / addBlock * addBlock
	a.stride = a.cols + 2*reach
	a.values = room(a.values, a.stride*(rows+2*reach))
	a.sums = room(a.sums, a.cols*rows)
}

// row returns the numbers of a source row, counted from the first.
func (a *adder) row(i int) []int64 { return a.values[a.stride*i : a.stride*(i+1)] }

// sum returns the sums of a tile row.
func (a *adder) sum(row int) []int64 { return a.sums[a.cols*row : a.cols*(row+1)] }

// run sums up.
func (a *adder) run() {
	a.all = a.disc.all(a.all[:0], a.stride)
	a.gains, a.losses = a.disc.edges(a.gains[:0], a.losses[:0], 1, a.stride)
	for col := 0; col < a.cols; col += addBlock {
		var sums [addBlock]int64
		sumUp(&sums, a.values[col:], a.all, nil)
		copy(a.sums[col:], sums[:])
		values := a.values[col:]
		for at := col + a.cols; at < len(a.sums); at += a.cols {
			sumUp(&sums, values, a.gains, a.losses)
			copy(a.sums[at:], sums[:])
			values = values[a.stride:]
		}
	}
}

// sumUp adds to sums the values from gains on and takes away those from
// losses on.
func sumUp(sums *[addBlock]int64, values []int64, gains, losses []int) {
	a, b, c, d := sums[0], sums[1], sums[2], sums[3]
	e, f, g, h := sums[4], sums[5], sums[6], sums[7]
	for _, from := range gains {
		v := values[from : from+addBlock : from+addBlock]
		a += v[0]
		b += v[1]
		c += v[2]
		d += v[3]
		e += v[4]
		f += v[5]
		g += v[6]
		h += v[7]
	}
	for _, from := range losses {
		v := values[from : from+addBlock : from+addBlock]
		a -= v[0]
		b -= v[1]
		c -= v[2]
		d -= v[3]
		e -= v[4]
		f -= v[5]
		g -= v[6]
		h -= v[7]
	}
	*sums = [addBlock]int64{a, b, c, d, e, f, g, h}
}
