package cog

import (
	"encoding/binary"
	"math"

	"likelyground/raster"
)

// canonicalNaN is the one bit pattern a NaN is written as.
const canonicalNaN = 0x7fc00000

// filler is what missing cells, and cells of a block beyond the grid, are
// written as.
type filler struct {
	bits uint32 // of a float32
	code int32
}

func (l Layout) filler() filler {
	switch {
	case l.Nodata == nil:
		return filler{}
	case math.IsNaN(*l.Nodata):
		return filler{bits: canonicalNaN}
	case l.Sample == Float32:
		return filler{bits: math.Float32bits(float32(*l.Nodata))}
	}
	return filler{code: int32(*l.Nodata)}
}

// predictor is the TIFF code of what these functions do to a block.
func (s Sample) predictor() uint16 {
	if s == Float32 {
		return 3
	}
	return 2
}

// predict writes the cells of w, which t holds, as a block into dst, ready for the compressor. Cells beyond w are filled.
func (l *Layout) predict(dst []byte, t raster.Tile, w raster.Window, fill filler) {
	s, side := l.Sample, l.Block
	n := side * s.bytes()
	for r := range side {
		row := dst[r*n : (r+1)*n]
		at, end := 0, 0
		if r < w.Rows {
			at = t.Index(w.Col, w.Row+r)
			end = at + w.Cols
		}
		switch s {
		case Float32:
			floatRow(row, t.Values[at:end], fill.bits)
		case Colour:
			colourRow(row, t.Values[at:end], l.Ramp)
		case Int16:
			shortRow(row, t.Codes[at:end], fill.code)
		default:
			byteRow(row, t.Codes[at:end], fill.code)
		}
	}
}

// floatRow is TIFF predictor 3: the bytes of a row laid out in four planes,
// the most significant first, then each byte less the one before it across
// the whole row. Cells that src lacks and NaN become the bits of fill.
func floatRow(dst []byte, src []float32, fill uint32) {
	n := len(dst) / 4
	p0, p1, p2, p3 := dst[:n], dst[n:2*n], dst[2*n:3*n], dst[3*n:4*n]
	i, before := floatEights(p0, p1, p2, p3, src, fill)
	for ; i < n; i++ {
		bits := fill
		if i < len(src) {
			bits = bitsOf(src[i], fill)
		}
		d := subtractBytes(uint64(bits), uint64(before))
		before = bits
		p0[i], p1[i], p2[i], p3[i] = byte(d>>24), byte(d>>16), byte(d>>8), byte(d)
	}
	p1[0] -= byte(before >> 24)
	p2[0] -= byte(before >> 16)
	p3[0] -= byte(before >> 8)
}

// floatEights does the cells of a row that come in full eights, and returns
// how many they are and the bits of the last one. Each word holds two cells,
// four apart, so that a transposition of 4 x 4 bytes in both halves of four
// words at once puts eight bytes of a plane side by side.
func floatEights(p0, p1, p2, p3 []byte, src []float32, fill uint32) (done int, before uint32) {
	const m1, m2 = 0x00ff00ff00ff00ff, 0x0000ffff0000ffff
	n := len(src) &^ 7
	for i := 0; i < n; i += 8 {
		v := src[i : i+8 : i+8]
		w0 := uint64(bitsOf(v[0], fill)) | uint64(bitsOf(v[4], fill))<<32
		w1 := uint64(bitsOf(v[1], fill)) | uint64(bitsOf(v[5], fill))<<32
		w2 := uint64(bitsOf(v[2], fill)) | uint64(bitsOf(v[6], fill))<<32
		w3 := uint64(bitsOf(v[3], fill)) | uint64(bitsOf(v[7], fill))<<32
		d0 := subtractBytes(w0, uint64(before)|w3<<32)
		d1, d2, d3 := subtractBytes(w1, w0), subtractBytes(w2, w1), subtractBytes(w3, w2)
		before = uint32(w3 >> 32)
		e0, e1 := d0&m1|d1&m1<<8, d0>>8&m1|d1&^m1
		e2, e3 := d2&m1|d3&m1<<8, d2>>8&m1|d3&^m1
		binary.LittleEndian.PutUint64(p3[i:], e0&m2|e2&m2<<16)
		binary.LittleEndian.PutUint64(p2[i:], e1&m2|e3&m2<<16)
		binary.LittleEndian.PutUint64(p1[i:], e0>>16&m2|e2&^m2)
		binary.LittleEndian.PutUint64(p0[i:], e1>>16&m2|e3&^m2)
	}
	return n, before
}

// bitsOf returns the bits of v, those of fill when v is NaN.
func bitsOf(v float32, fill uint32) uint32 {
	bits := math.Float32bits(v)
	if bits&0x7fffffff > 0x7f800000 {
		bits = fill
	}
	return bits
}

// subtractBytes subtracts each byte of y from that of x, without borrows
// from one byte to the next.
func subtractBytes(x, y uint64) uint64 {
	const high = 0x8080808080808080
	return ((x | high) - (y &^ high)) ^ ((x ^ ^y) & high)
}

// shortRow is TIFF predictor 2 on 16-bit integers.
func shortRow(dst []byte, src []int32, fill int32) {
	var before int32
	n := len(dst) / 2
	for i := range n {
		v := fill
		if i < len(src) && src[i] != raster.MissingCode {
			v = src[i]
		}
		binary.LittleEndian.PutUint16(dst[2*i:], uint16(v-before))
		before = v
	}
}

// byteRow is TIFF predictor 2 on 8-bit integers.
func byteRow(dst []byte, src []int32, fill int32) {
	var before int32
	for i := range dst {
		v := fill
		if i < len(src) && src[i] != raster.MissingCode {
			v = src[i]
		}
		dst[i] = byte(v - before)
		before = v
	}
}

// colourRow is TIFF predictor 2 on pixels of four bytes.
func colourRow(dst []byte, src []float32, ramp [][3]byte) {
	var before colour
	for i := range len(dst) / 4 {
		var c colour
		if i < len(src) && src[i] == src[i] {
			rgb := ramp[step(src[i], len(ramp))]
			c = colour{rgb[0], rgb[1], rgb[2], 255}
		}
		for k := range c {
			dst[4*i+k] = c[k] - before[k]
		}
		before = c
	}
}

// step returns which of n colours a known value has.
func step(v float32, n int) int {
	return int(float64(float64(min(max(v, 0), 1))*float64(n-1)) + 0.5)
}
