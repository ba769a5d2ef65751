package cog

import (
	"likelyground/raster"
)

// halve makes the overview cells that the cells of w, a window of src that
// begins on even column and row, give rise to, and writes them to dst, a
// tile of the next level. It returns how many of them are known.
func (o Overview) halve(dst, src raster.Tile, w raster.Window) (known int) {
	for row := w.Row; row < w.EndRow(); row += 2 {
		a := src.Index(w.Col, row)
		b := a
		if row+1 < w.EndRow() {
			b += src.Cols
		}
		to := dst.Index(w.Col/2, row/2)
		if src.Codes != nil {
			known += o.halveCodes(dst.Codes[to:], src.Codes[a:a+w.Cols], src.Codes[b:b+w.Cols], a == b)
		} else {
			known += o.halveValues(dst.Values[to:], src.Values[a:a+w.Cols], src.Values[b:b+w.Cols], a == b)
		}
	}
	return known
}

// halveValues makes one overview row of two rows; alone says that the second
// is not there (and is the first one again).
func (o Overview) halveValues(dst, north, south []float32, alone bool) (known int) {
	if o == Average && !alone {
		return averageRow(dst, north, south)
	}
	return o.halveRow(dst, north, south, alone)
}

func (o Overview) halveRow(dst, north, south []float32, alone bool) (known int) {
	for i := 0; i < len(north); i += 2 {
		var four [4]float32
		v := o.merge(quad(&four, north, south, i, alone))
		if v == v {
			known++
		}
		dst[i/2] = v
	}
	return known
}

// averageRow is halveValues for the common case: means of two whole rows.
func averageRow(dst, north, south []float32) (known int) {
	n := len(north) / 2
	dst, south = dst[:(len(north)+1)/2], south[:len(north)]
	for i := range n {
		a, b, c, d := north[2*i], north[2*i+1], south[2*i], south[2*i+1]
		v := float32((float64(a) + float64(b) + float64(c) + float64(d)) / 4)
		if v != v {
			v = meanKnown([]float32{a, b, c, d})
		}
		if v == v {
			known++
		}
		dst[i] = v
	}
	if len(north)%2 == 1 {
		v := meanKnown([]float32{north[2*n], south[2*n]})
		if v == v {
			known++
		}
		dst[n] = v
	}
	return known
}

// quad returns the cells that lie in the square at column i of two rows:
// north-west, north-east, south-west, south-east.
func quad[T any](four *[4]T, north, south []T, i int, alone bool) []T {
	out := append(four[:0], north[i:min(i+2, len(north))]...)
	if alone {
		return out
	}
	return append(out, south[i:min(i+2, len(south))]...)
}

func (o Overview) merge(cells []float32) float32 {
	switch o {
	case Average:
		return meanKnown(cells)
	case Nearest:
		return cells[0]
	}
	return mode(cells, func(v float32) bool { return v == v }, raster.Missing)
}

func meanKnown(cells []float32) float32 {
	var sum float64
	n := 0
	for _, v := range cells {
		if v == v {
			sum += float64(v)
			n++
		}
	}
	if n == 0 {
		return raster.Missing
	}
	return float32(sum / float64(n))
}

func (o Overview) halveCodes(dst, north, south []int32, alone bool) (known int) {
	for i := 0; i < len(north); i += 2 {
		var four [4]int32
		v := o.mergeCodes(quad(&four, north, south, i, alone))
		if v != raster.MissingCode {
			known++
		}
		dst[i/2] = v
	}
	return known
}

func (o Overview) mergeCodes(cells []int32) int32 {
	switch o {
	case Average:
		return meanCode(cells)
	case Nearest:
		return cells[0]
	}
	return mode(cells, func(c int32) bool { return c != raster.MissingCode }, raster.MissingCode)
}

// meanCode is the mean of the known codes, to the nearest integer, halves
// away from zero.
func meanCode(cells []int32) int32 {
	var sum, n int64
	for _, c := range cells {
		if c != raster.MissingCode {
			sum += int64(c)
			n++
		}
	}
	switch {
	case n == 0:
		return raster.MissingCode
	case sum < 0:
		return int32(-((-2*sum + n) / (2 * n)))
	}
	return int32((2*sum + n) / (2 * n))
}

// mode returns the most frequent known cell, the lowest of equally frequent
// ones, or missing.
func mode[T float32 | int32](cells []T, known func(T) bool, missing T) T {
	best, most := missing, 0
	for _, v := range cells {
		if !known(v) {
			continue
		}
		n := 0
		for _, u := range cells {
			if u == v {
				n++
			}
		}
		if n > most || n == most && v < best {
			best, most = v, n
		}
	}
	return best
}
