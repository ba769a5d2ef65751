package raster

// Run returns how many of the first codes are the same; 0 where there is none.
// Cells beside each other are mostly of one class, so what is counted of
// classes is best counted run by run.
//
// It looks at eight codes at a time: each bit that differs from the first
// code stays set in all differences after it, and those that are still zero
// are counted without a branch.
func Run(codes []int32) int {
	if len(codes) == 0 {
		return 0
	}
	first, n := codes[0], 1
	for ; n+8 <= len(codes); n += 8 {
		c := codes[n : n+8 : n+8]
		d0 := c[0] ^ first
		d1 := d0 | (c[1] ^ first)
		d2 := d1 | (c[2] ^ first)
		d3 := d2 | (c[3] ^ first)
		d4 := d3 | (c[4] ^ first)
		d5 := d4 | (c[5] ^ first)
		d6 := d5 | (c[6] ^ first)
		if d6|(c[7]^first) != 0 {
			return n + zero(d0) + zero(d1) + zero(d2) + zero(d3) + zero(d4) + zero(d5) + zero(d6)
		}
	}
	for n < len(codes) && codes[n] == first {
		n++
	}
	return n
}

// zero is 1 for 0, else 0.
func zero(d int32) int { return int(^uint32(d|-d) >> 31) }
