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

// predict writes the cells of w, which t holds, as a block of the given side
// into dst, ready for the compressor. Cells beyond w are filled.
func (s Sample) predict(dst []byte, t raster.Tile, w raster.Window, side int, fill filler) {
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
	var before uint32
	for i, v := range src[:min(len(src), n)] {
		bits := math.Float32bits(v)
		if v != v {
			bits = fill
		}
		d := subtractBytes(bits, before)
		before = bits
		p0[i], p1[i], p2[i], p3[i] = byte(d>>24), byte(d>>16), byte(d>>8), byte(d)
	}
	for i := len(src); i < n; i++ {
		d := subtractBytes(fill, before)
		before = fill
		p0[i], p1[i], p2[i], p3[i] = byte(d>>24), byte(d>>16), byte(d>>8), byte(d)
	}
	p1[0] -= byte(before >> 24)
	p2[0] -= byte(before >> 16)
	p3[0] -= byte(before >> 8)
}

// subtractBytes subtracts each byte of y from that of x, without borrows
// from one byte to the next.
func subtractBytes(x, y uint32) uint32 {
	const high = 0x80808080
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
