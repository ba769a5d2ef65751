package cog

import (
	"errors"
	"fmt"
	"math"

	"likelyground/raster"
)

// Sample is how a cell is stored.
type Sample int

// The samples. Float32 and Colour take Tile.Values; Int16 and Byte take
// Tile.Codes.
const (
	Float32 Sample = iota
	Int16          // -32768 to 32767
	Byte           // 0 to 255
	Colour         // red, green, blue and opacity of Layout.Ramp
)

// values tells whether the sample takes Tile.Values.
func (s Sample) values() bool { return s == Float32 || s == Colour }

// colour is what a file of colours stores of a cell: red, green, blue, opacity.
type colour [4]byte

// Overview is how four cells become one cell of the next overview.
type Overview int

// The overviews.
const (
	// Average is the mean of the known cells: summed in float64 north-west,
	// north-east, south-west, south-east, rounded to float32; of codes,
	// rounded to the nearest integer, halves away from zero.
	Average Overview = iota
	// Nearest is the north-western cell, known or not.
	Nearest
	// Mode is the most frequent known value, the lowest of equally frequent.
	Mode
)

// Compression is how a block is compressed.
type Compression int

// The compressions.
const (
	Deflate Compression = iota // TIFF compression 8, what every viewer reads
	Zstd                       // TIFF compression 50000, which not every viewer reads
)

// GeoTags are the GeoTIFF key tags that name the coordinate reference
// system. The zero value writes none.
type GeoTags struct {
	Directory []uint16  // tag 34735
	Doubles   []float64 // tag 34736
	ASCII     string    // tag 34737, without its final NUL
}

// Band describes one band. Scale and Offset are declared for readers
// (value = stored * Scale + Offset) and not applied; a Scale of 0 means 1.
type Band struct {
	Description string
	Unit        string
	Scale       float64
	Offset      float64
}

// Layout says what a file holds. Its zero value lacks a grid and a band; all
// else defaults to the sensible.
type Layout struct {
	Grid   raster.Grid
	Geo    GeoTags
	Sample Sample
	Bands  []Band
	// Block is the side of a block in cells, a multiple of 16; 0 means 512.
	Block int
	// Nodata is what missing cells are written as; nil: there are none.
	Nodata      *float64
	Overview    Overview
	Compression Compression
	// Level is the effort of the compression: 1 to 9 for Deflate, 1 to 22
	// for Zstd; 0 means 6 for Deflate and 3 for Zstd. Overviews are packed
	// with effort 1, whatever it is.
	Level int
	// Ramp are the colours of the values from 0 to 1, at equal steps, of a file
	// of Colour: red, green, blue. A value has the nearest one, beyond 0 to 1 the
	// one of that end; a missing cell is transparent. Overviews have the colour
	// of the mean of values, not the mean of colours. One band, no nodata.
	Ramp [][3]byte
	// Metadata are items about the whole file, written in order of name; empty
	// ones are left out.
	Metadata map[string]string
	// Memory bounds the bytes that unfinished blocks hold; 0 means 64 MiB.
	Memory int64

	big bool // BigTIFF whatever the size
}

const (
	defaultBlock  = 512
	defaultMemory = 64 << 20
	maxSide       = math.MaxInt32
)

// normal returns the layout with its defaults filled in, or what is wrong
// with it.
func (l Layout) normal() (Layout, error) {
	if l.Block == 0 {
		l.Block = defaultBlock
	}
	if l.Memory == 0 {
		l.Memory = defaultMemory
	}
	if l.Level == 0 {
		l.Level = defaultLevel(l.Compression)
	}
	err := errors.Join(l.checkGrid(), l.checkCoding(), l.checkNodata(), l.Geo.check())
	return l, err
}

func (l Layout) checkGrid() error {
	g := l.Grid
	switch {
	case g.Cols < 1 || g.Rows < 1 || g.Cols > maxSide || g.Rows > maxSide:
		return fmt.Errorf("a grid of %d x %d cells cannot be written: sides of 1 to %d can", g.Cols, g.Rows, maxSide)
	case !(g.DX > 0) || !(g.DY > 0) || math.IsInf(g.DX+g.DY, 0):
		return fmt.Errorf("cells of %v x %v cannot be written: both sides must be above 0", g.DX, g.DY)
	case math.IsNaN(g.X0+g.Y0) || math.IsInf(g.X0, 0) || math.IsInf(g.Y0, 0):
		return fmt.Errorf("a grid with its corner at %v, %v cannot be written", g.X0, g.Y0)
	case l.Block < 16 || l.Block%16 != 0 || l.Block > 1<<14:
		return fmt.Errorf("blocks of %d cells cannot be written: multiples of 16 up to %d can", l.Block, 1<<14)
	case l.Memory < 0:
		return fmt.Errorf("unfinished blocks cannot be held in %d bytes", l.Memory)
	}
	return nil
}

func (l Layout) checkCoding() error {
	switch {
	case len(l.Bands) < 1 || len(l.Bands) > math.MaxUint16:
		return fmt.Errorf("a file of %d bands cannot be written: 1 to %d can", len(l.Bands), math.MaxUint16)
	case l.Sample < Float32 || l.Sample > Colour:
		return fmt.Errorf("no such sample: %d", l.Sample)
	case l.Overview < Average || l.Overview > Mode:
		return fmt.Errorf("no such overview: %d", l.Overview)
	}
	return errors.Join(checkLevel(l.Compression, l.Level), l.checkRamp())
}

func (l Layout) checkRamp() error {
	switch {
	case l.Sample != Colour && l.Ramp != nil:
		return errors.New("a ramp of colours goes with the sample Colour alone")
	case l.Sample != Colour:
		return nil
	case len(l.Ramp) < 2:
		return fmt.Errorf("a ramp of %d colours cannot be used: give 2 or more", len(l.Ramp))
	case len(l.Bands) != 1 || l.Nodata != nil:
		return errors.New("a file of colours has one band, and no nodata: missing cells are transparent")
	}
	return nil
}

func (l Layout) checkNodata() error {
	if l.Nodata == nil {
		return nil
	}
	n := *l.Nodata
	if l.Sample == Float32 {
		if math.IsInf(n, 0) || n == n && float64(float32(n)) != n {
			return fmt.Errorf("nodata %v is no 32-bit float: take NaN or a number that is one", n)
		}
		return nil
	}
	low, high := l.Sample.span()
	if n != math.Trunc(n) || n < float64(low) || n > float64(high) {
		return fmt.Errorf("nodata %v does not fit the sample: take an integer from %d to %d", n, low, high)
	}
	return nil
}

// span returns the codes an integer sample can hold.
func (s Sample) span() (low, high int32) {
	if s == Byte {
		return 0, math.MaxUint8
	}
	return math.MinInt16, math.MaxInt16
}

func (s Sample) bytes() int { return [...]int{Float32: 4, Int16: 2, Byte: 1, Colour: 4}[s] }

// check looks at the form of the key directory: a header of four numbers,
// then four a key, pointing into the other two tags.
func (g GeoTags) check() error {
	d := g.Directory
	if len(d) == 0 {
		return nil
	}
	if len(d) < 4 || len(d) != 4+4*int(d[3]) {
		return fmt.Errorf("the GeoTIFF key directory holds %d numbers, which is not four and four a key", len(d))
	}
	for k := 4; k < len(d); k += 4 {
		if err := g.checkKey(d[k], d[k+1], int(d[k+2]), int(d[k+3])); err != nil {
			return err
		}
	}
	return nil
}

func (g GeoTags) checkKey(key, tag uint16, count, at int) error {
	end := at + count
	switch {
	case key == rasterTypeKey && (tag != 0 || at != 1):
		return fmt.Errorf("the GeoTIFF keys say that values belong to points; cells are areas here (key %d must be 1)", key)
	case tag == tagGeoDoubles && end > len(g.Doubles), tag == tagGeoASCII && end > len(g.ASCII):
		return fmt.Errorf("GeoTIFF key %d points beyond tag %d", key, tag)
	}
	return nil
}

// rasterTypeKey is GTRasterTypeGeoKey (OGC 19-008r4, 7.4.1): 1 for areas.
const rasterTypeKey = 1025

// level is one resolution of the file: 0 is full, each next one half of it.
type level struct {
	block        int
	cols, rows   int
	across, down int // in blocks
}

// levels returns all resolutions, full first, down to one that fits in one
// block.
func (l Layout) levels() []level {
	var out []level
	for cols, rows := l.Grid.Cols, l.Grid.Rows; ; cols, rows = (cols+1)/2, (rows+1)/2 {
		out = append(out, level{l.Block, cols, rows, (cols + l.Block - 1) / l.Block, (rows + l.Block - 1) / l.Block})
		if cols <= l.Block && rows <= l.Block {
			return out
		}
	}
}

func (v level) blocks() int { return v.across * v.down }

// window returns the cells of a block that lie in the level.
func (v level) window(i int) raster.Window {
	w := raster.Window{Col: i % v.across * v.block, Row: i / v.across * v.block, Cols: v.block, Rows: v.block}
	return w.Clip(raster.Window{Cols: v.cols, Rows: v.rows})
}

// children returns how many blocks of the level before make block i of this
// one.
func (v level) children(i int, before level) int {
	bx, by := i%v.across, i/v.across
	return min(2, before.across-2*bx) * min(2, before.down-2*by)
}
