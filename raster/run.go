package raster

// Run returns how many of the first codes are the same; 0 where there is none.
// Cells beside each other are mostly of one class, so what is done to classes
// is best done run by run.
func Run(codes []int32) int {
	if len(codes) == 0 {
		return 0
	}
	first, n := codes[0], 1
	for ; n+4 <= len(codes); n += 4 {
		four := codes[n : n+4 : n+4]
		if (four[0]^first)|(four[1]^first)|(four[2]^first)|(four[3]^first) != 0 {
			break
		}
	}
	for n < len(codes) && codes[n] == first {
		n++
	}
	return n
}
