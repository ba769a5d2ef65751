package maps

import (
	"math"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// readStraight reads quantities that need nothing done to them but a look for
// missing numbers, and lie cell on cell with the grid in one file, right into
// dst, and counts them. It reports whether it did: where anything is less
// simple, or looks odd, the long way is to be taken, which gives the same.
func (r *rasterReader) readStraight(dst raster.Tile, need []bool) (done bool, err error) {
	f, at := r.straightFile(dst)
	if f == nil {
		return false, nil
	}
	at.Col, at.Row = at.Col-f.at.Col, at.Row-f.at.Row
	open, err := r.handles.open(f)
	if err == nil && !open.packed.values(dst.Values, at) {
		err = open.ds.Bands()[f.band].Read(at.Col, at.Row, dst.Values, at.Cols, at.Rows, godal.ErrLogger(quiet))
	}
	if err != nil {
		return false, r.source.readFailure(f, err)
	}
	missing, low, high := blankMissing(f, dst.Values)
	if r.source.rules.suspicious(f, float64(low), float64(high)) {
		return false, nil
	}
	if need != nil {
		r.counts.take(dst, need)
		return true, nil
	}
	r.counts.missing += missing
	r.counts.span(int64(dst.Size())-missing, low, high)
	return true, nil
}

// straightFile returns the file that holds all of dst cell on cell, and where
// in the cells of its part; nil where there is no such file.
func (r *rasterReader) straightFile(dst raster.Tile) (*rasterFile, raster.Window) {
	p := r.parts[0].part
	if len(r.parts) > 1 || p.shift == nil || dst.Values == nil || dst.Size() > mostCells {
		return nil, raster.Window{}
	}
	at := raster.Window{Col: dst.Col + p.shift[0], Row: dst.Row + p.shift[1], Cols: dst.Cols, Rows: dst.Rows}
	for _, f := range p.tiles {
		switch {
		case f.at.Clip(at).Empty():
		case f.at.Holds(at) && f.form == asFloat32 && f.plain(&r.source.rules):
			return f, at
		default:
			return nil, at
		}
	}
	return nil, at
}

// blankMissing makes the numbers of a file that say nothing NaN, all of the
// same bits, and returns how many they are and the extremes of the others.
func blankMissing(f *rasterFile, values []float32) (missing int64, low, high float32) {
	from, to := f.onlyMissing()
	low, high = float32(math.Inf(1)), float32(math.Inf(-1))
	for i, x := range values {
		switch {
		case x != x || x >= from && x <= to:
			values[i] = raster.Missing
			missing++
		case !(x >= low && x <= high):
			low, high = min(low, x), max(high, x)
		}
	}
	return missing, low, high
}
