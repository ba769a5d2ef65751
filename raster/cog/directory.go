package cog

import (
	"encoding/binary"
	"math"
	"strings"
)

// TIFF tags (TIFF 6.0; GeoTIFF 1.1; the last two are GDAL's).
const (
	tagSubfile       = 254
	tagWidth         = 256
	tagHeight        = 257
	tagBits          = 258
	tagCompression   = 259
	tagPhotometric   = 262
	tagSamples       = 277
	tagPlanar        = 284
	tagPredictor     = 317
	tagTileWidth     = 322
	tagTileHeight    = 323
	tagTileOffsets   = 324
	tagTileSizes     = 325
	tagExtraSamples  = 338
	tagSampleFormat  = 339
	tagPixelScale    = 33550
	tagTiepoint      = 33922
	tagGeoKeys       = 34735
	tagGeoDoubles    = 34736
	tagGeoASCII      = 34737
	tagMetadata      = 42112
	tagNodata        = 42113
	leaderAndTrailer = 8 // bytes round each block
)

// TIFF field types.
const (
	kindASCII  = 2
	kindShort  = 3
	kindLong   = 4
	kindDouble = 12
	kindLong8  = 16
)

// field is one entry of an image file directory, its values in little-endian
// order.
type field struct {
	tag, kind uint16
	count     int
	data      []byte
}

// directory is an image file directory, fields in order of tag.
type directory []field

func (d *directory) shorts(tag uint16, values ...uint16) {
	f := field{tag: tag, kind: kindShort, count: len(values)}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint16(f.data, v)
	}
	*d = append(*d, f)
}

func (d *directory) longs(tag uint16, values ...uint32) {
	f := field{tag: tag, kind: kindLong, count: len(values)}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint32(f.data, v)
	}
	*d = append(*d, f)
}

func (d *directory) doubles(tag uint16, values ...float64) {
	f := field{tag: tag, kind: kindDouble, count: len(values)}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint64(f.data, math.Float64bits(v))
	}
	*d = append(*d, f)
}

func (d *directory) text(tag uint16, s string) {
	data := append([]byte(s), 0)
	*d = append(*d, field{tag, kindASCII, len(data), data})
}

// directory describes one level of the file. Offsets and sizes of blocks, in
// the order they are stored, are placed as they are given.
func (w *Writer) directory(k int, offsets []int64, big bool) directory {
	l, v := &w.layout, w.levels[k]
	var d directory
	d.longs(tagSubfile, uint32(min(k, 1)))
	d.longs(tagWidth, uint32(v.cols))
	d.longs(tagHeight, uint32(v.rows))
	samples := l.samples()
	d.shorts(tagBits, repeat(uint16(8*l.Sample.bytes()*len(l.Bands)/samples), samples)...)
	d.shorts(tagCompression, l.Compression.number())
	d.shorts(tagPhotometric, l.Sample.photometric())
	d.shorts(tagSamples, uint16(samples))
	d.shorts(tagPlanar, uint16(1+min(len(l.Bands)-1, 1))) // 2: separate planes
	d.shorts(tagPredictor, l.Sample.predictor())
	d.shorts(tagTileWidth, uint16(l.Block))
	d.shorts(tagTileHeight, uint16(l.Block))
	d.blocks(offsets, w.sizes(k), big)
	switch {
	case l.Sample == Colour:
		d.shorts(tagExtraSamples, 2) // opacity, the colours not multiplied by it
	case samples > 1:
		d.shorts(tagExtraSamples, repeat(0, samples-1)...)
	}
	d.shorts(tagSampleFormat, repeat(l.Sample.format(), samples)...)
	if k == 0 {
		d.place(l)
		if m := w.metadata(); m != "" {
			d.text(tagMetadata, m)
		}
	}
	if l.Nodata != nil {
		d.text(tagNodata, l.nodataText())
	}
	return d
}

// blocks writes where the blocks lie: offsets of 8 bytes in a BigTIFF, of 4
// otherwise.
func (d *directory) blocks(offsets []int64, sizes []uint32, big bool) {
	f := field{tag: tagTileOffsets, kind: kindLong, count: len(offsets)}
	if big {
		f.kind = kindLong8
	}
	for _, at := range offsets {
		f.data = appendOffset(f.data, at, big)
	}
	*d = append(*d, f)
	d.longs(tagTileSizes, sizes...)
}

// place writes where on earth the grid lies.
func (d *directory) place(l *Layout) {
	d.doubles(tagPixelScale, l.Grid.DX, l.Grid.DY, 0)
	d.doubles(tagTiepoint, 0, 0, 0, l.Grid.X0, l.Grid.Y0, 0)
	if len(l.Geo.Directory) > 0 {
		d.shorts(tagGeoKeys, l.Geo.Directory...)
	}
	if len(l.Geo.Doubles) > 0 {
		d.doubles(tagGeoDoubles, l.Geo.Doubles...)
	}
	if text := strings.TrimRight(l.Geo.ASCII, "\x00"); text != "" {
		d.text(tagGeoASCII, text)
	}
}

func repeat(v uint16, n int) []uint16 {
	out := make([]uint16, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// samples is how many samples a cell has in the file.
func (l *Layout) samples() int {
	if l.Sample == Colour {
		return len(colour{})
	}
	return len(l.Bands)
}

// photometric is the TIFF code of what samples mean: 0 is black, or red, green
// and blue.
func (s Sample) photometric() uint16 {
	if s == Colour {
		return 2
	}
	return 1
}

// format is the TIFF code of a sample: unsigned, signed or floating point.
func (s Sample) format() uint16 { return [...]uint16{Float32: 3, Int16: 2, Byte: 1, Colour: 1}[s] }

func appendOffset(b []byte, v int64, big bool) []byte {
	if big {
		return binary.LittleEndian.AppendUint64(b, uint64(v))
	}
	return binary.LittleEndian.AppendUint32(b, uint32(v))
}

// inline is how many bytes of values an entry holds itself.
func inline(big bool) int {
	if big {
		return 8
	}
	return 4
}

// append writes a directory that begins at offset at, the values that do not
// fit in its entries behind it: those of the blocks last, since they are
// long. last says that no other directory follows; another one follows at
// once.
func (d directory) append(b []byte, at int64, big, last bool) []byte {
	after := at + d.tableSize(big)
	outer := d.outer(big)
	where := make(map[uint16]int64, len(outer))
	end := after
	for _, f := range outer {
		where[f.tag] = end
		end += even(int64(len(f.data)))
	}
	b = appendCount(b, len(d), big)
	for _, f := range d {
		b = f.append(b, where[f.tag], big)
	}
	if last {
		end = 0
	}
	b = appendOffset(b, end, big)
	for _, f := range outer {
		b = append(b, f.data...)
		b = append(b, make([]byte, len(f.data)%2)...)
	}
	return b
}

// outer returns the fields whose values stand behind the directory, in the
// order they stand there.
func (d directory) outer(big bool) []field {
	var out, blocks []field
	for _, f := range d {
		switch {
		case len(f.data) <= inline(big):
		case f.tag == tagTileOffsets || f.tag == tagTileSizes:
			blocks = append(blocks, f)
		default:
			out = append(out, f)
		}
	}
	return append(out, blocks...)
}

func (d directory) tableSize(big bool) int64 {
	if big {
		return 8 + 20*int64(len(d)) + 8
	}
	return 2 + 12*int64(len(d)) + 4
}

func appendCount(b []byte, n int, big bool) []byte {
	if big {
		return binary.LittleEndian.AppendUint64(b, uint64(n))
	}
	return binary.LittleEndian.AppendUint16(b, uint16(n))
}

func (f field) append(b []byte, at int64, big bool) []byte {
	b = binary.LittleEndian.AppendUint16(b, f.tag)
	b = binary.LittleEndian.AppendUint16(b, f.kind)
	b = appendOffset(b, int64(f.count), big)
	if n := len(f.data); n <= inline(big) {
		b = append(b, f.data...)
		return append(b, make([]byte, inline(big)-n)...)
	}
	return appendOffset(b, at, big)
}

// even rounds up to what TIFF allows an offset to be.
func even(n int64) int64 { return n + n&1 }
