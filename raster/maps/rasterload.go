package maps

import (
	"errors"
	"math"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// block is a window of decoded source cells of one part.
type block struct {
	raster.Window
	values  []float32 // quantities in the unit of the plan, NaN unknown
	codes   []int32   // or class codes
	flags   []flag    // what is odd about a cell; valid where dirty
	dirty   bool      // some cell is odd
	lost    bool      // a position lay in the part but not in the block
	filled  int       // files decoded into it so far
	covered []bool    // by a file; only for maps whose absent ground has a value

	lowCol, lowRow, highCol, highRow float64 // positions whose neighbours are all in the block
	extent                           raster.Window
	beyond                           float32 // value of ground outside the part, NaN unknown
	beyondCode                       int32
}

// rawCells holds a piece of a file as it was read, row by row.
type rawCells struct {
	f32  []float32
	f64  []float64
	i32  []int32
	mask []byte
}

// load reads and decodes the window w of a part into r.block.
func (r *rasterReader) load(p *part, w raster.Window) error {
	b := &r.block
	b.begin(p, w, r.source.spec.Classes)
	if v, ok := r.source.absent(); ok && len(r.parts) == 1 {
		b.beyond, b.beyondCode = float32(v), int32(v)
	}
	for _, f := range p.tiles {
		piece := f.at.Clip(w)
		if piece.Empty() {
			continue
		}
		if err := r.fetch(f, piece); err != nil {
			return r.source.readFailure(f, err)
		}
		r.decode(f, piece)
		b.filled++
	}
	if b.beyond == b.beyond {
		b.fillUncovered(p)
	}
	return nil
}

// begin empties the block and gives it a window.
func (b *block) begin(p *part, w raster.Window, classes bool) {
	b.Window, b.extent = w, p.extent
	b.dirty, b.lost, b.filled = false, false, 0
	b.beyond, b.beyondCode = raster.Missing, raster.MissingCode
	b.lowCol, b.lowRow = float64(w.Col+1), float64(w.Row+1)
	b.highCol, b.highRow = float64(w.EndCol()-1)-2*raster.Snap, float64(w.EndRow()-1)-2*raster.Snap
	if classes {
		b.codes = sized(b.codes, w.Size())
		setAll(b.codes, raster.MissingCode)
		return
	}
	b.values = sized(b.values, w.Size())
	setAll(b.values, raster.Missing)
}

// fillUncovered gives cells that no file of the part covers the value of
// ground outside it.
func (b *block) fillUncovered(p *part) {
	b.covered = sized(b.covered, b.Size())
	setAll(b.covered, false)
	for _, f := range p.tiles {
		piece := f.at.Clip(b.Window)
		for row := piece.Row; row < piece.EndRow(); row++ {
			setAll(b.covered[b.Index(piece.Col, row):][:piece.Cols], true)
		}
	}
	for i, covered := range b.covered {
		switch {
		case covered:
		case b.codes != nil:
			b.codes[i] = b.beyondCode
		default:
			b.values[i] = b.beyond
		}
	}
}

// fetch reads a piece of a file, given in cells of its part, at full
// resolution.
func (r *rasterReader) fetch(f *rasterFile, piece raster.Window) error {
	open, err := r.handles.open(f)
	if err != nil {
		return err
	}
	band := open.ds.Bands()[f.band]
	col, row, n := piece.Col-f.at.Col, piece.Row-f.at.Row, piece.Size()
	at := raster.Window{Col: col, Row: row, Cols: piece.Cols, Rows: piece.Rows}
	var buffer any
	var done bool
	switch f.form {
	case asFloat32:
		r.raw.f32 = sized(r.raw.f32, n)
		buffer, done = r.raw.f32, open.packed.values(r.raw.f32, at)
	case asFloat64:
		r.raw.f64 = sized(r.raw.f64, n)
		buffer = r.raw.f64
	default:
		r.raw.i32 = sized(r.raw.i32, n)
		buffer, done = r.raw.i32, open.packed.codes(r.raw.i32, at)
	}
	if !done {
		if err := band.Read(col, row, buffer, piece.Cols, piece.Rows, godal.ErrLogger(quiet)); err != nil {
			return err
		}
	}
	if !f.masked {
		return nil
	}
	r.raw.mask = sized(r.raw.mask, n)
	return f.mask(open.ds).Read(col, row, r.raw.mask, piece.Cols, piece.Rows, godal.ErrLogger(quiet))
}

// decode turns the fetched piece into values or codes of the block.
func (r *rasterReader) decode(f *rasterFile, piece raster.Window) {
	d := decoder{block: &r.block, file: f, rules: &r.source.rules, piece: piece}
	if f.masked {
		d.mask = r.raw.mask
	}
	switch {
	case f.form == asInt32:
		d.wholeCodes(r.raw.i32)
	case r.source.spec.Classes:
		d.floatCodes(r.raw.f64)
	case f.form == asFloat32:
		decodeValues(&d, r.raw.f32)
	default:
		decodeValues(&d, r.raw.f64)
	}
}

// decoder carries one piece from a file's numbers to the block.
type decoder struct {
	block *block
	file  *rasterFile
	rules *rules
	piece raster.Window
	mask  []byte
}

// isMissing tells whether a number of the file means that nothing is known.
func (f *rasterFile) isMissing(x float64) bool {
	for i := range f.missing {
		if x >= f.missing[i].From && x <= f.missing[i].To {
			return true
		}
	}
	return x != x
}

// signedByte undoes the reading of a signed byte as an unsigned one.
func signedByte(x float64) float64 {
	if x >= 128 {
		return x - 256
	}
	return x
}

// physical turns a number of the file into a value.
func (f *rasterFile) physical(x float64) float64 { return float64(x*f.scale) + f.offset }

// decodeValues decodes quantities. Numbers that look wrong are kept for the
// judge: it looks at the block only when the extremes say that there is need.
func decodeValues[T float32 | float64](d *decoder, raw []T) {
	low, high, clipped := math.Inf(1), math.Inf(-1), false
	n := d.piece.Cols
	for row := range d.piece.Rows {
		out := d.block.values[d.block.Index(d.piece.Col, d.piece.Row+row):][:n]
		in := raw[row*n:][:n]
		if d.plain() {
			low, high = plainRow(d.file, out, in, low, high)
			continue
		}
		for i := range in {
			x, ok := d.number(float64(in[i]), row*n+i)
			if !ok || d.block.filled > 0 && out[i] == out[i] {
				continue
			}
			low, high = min(low, x), max(high, x)
			v := d.file.physical(x)
			if !d.rules.within(v) {
				clipped = true
				continue
			}
			out[i] = float32(v)
		}
	}
	if clipped || d.rules.suspicious(d.file, low, high) {
		flagValues(d, raw)
	}
}

// plain tells whether cells need no more than a look for missing numbers.
func (d *decoder) plain() bool { return d.block.filled == 0 && d.file.plain(d.rules) }

// plain tells whether a file's numbers are the values, but for the missing.
func (f *rasterFile) plain(rules *rules) bool {
	return !f.masked && !f.signed && f.scaleFrom == "" && len(f.missing) <= 1 && rules.between == nil
}

// onlyMissing is the one range of missing numbers of a plain file; NaN where
// it has none.
func (f *rasterFile) onlyMissing() (from, to float32) {
	if len(f.missing) == 0 {
		return raster.Missing, raster.Missing
	}
	return float32(f.missing[0].From), float32(f.missing[0].To)
}

// plainRow copies numbers, the missing ones as NaN, and follows the extremes.
func plainRow[T float32 | float64](f *rasterFile, out []float32, in []T, low, high float64) (float64, float64) {
	from, to := T(math.NaN()), T(math.NaN())
	if len(f.missing) == 1 {
		from, to = T(f.missing[0].From), T(f.missing[0].To)
	}
	least, most := T(low), T(high)
	out = out[:len(in)]
	for i, x := range in {
		if x != x || x >= from && x <= to {
			continue
		}
		if x < least {
			least = x
		}
		if x > most {
			most = x
		}
		out[i] = float32(x)
	}
	return float64(least), float64(most)
}

// number returns the file's number of a cell, and whether it says anything.
func (d *decoder) number(x float64, i int) (float64, bool) {
	if d.mask != nil && d.mask[i] == 0 {
		return 0, false
	}
	if d.file.signed {
		x = signedByte(x)
	}
	return x, !d.file.isMissing(x)
}

// wholeCodes decodes class codes stored as whole numbers.
func (d *decoder) wholeCodes(raw []int32) {
	n := d.piece.Cols
	for row := range d.piece.Rows {
		out := d.block.codes[d.block.Index(d.piece.Col, d.piece.Row+row):][:n]
		for i, c := range raw[row*n:][:n] {
			x, ok := d.number(float64(c), row*n+i)
			if ok && (d.block.filled == 0 || out[i] == raster.MissingCode) {
				out[i] = int32(x)
			}
		}
	}
}

// floatCodes decodes class codes stored in floating point.
func (d *decoder) floatCodes(raw []float64) {
	n, odd := d.piece.Cols, false
	for row := range d.piece.Rows {
		out := d.block.codes[d.block.Index(d.piece.Col, d.piece.Row+row):][:n]
		for i, c := range raw[row*n:][:n] {
			x, ok := d.number(c, row*n+i)
			if !ok || d.block.filled > 0 && out[i] != raster.MissingCode {
				continue
			}
			if !isCode(x) {
				odd = true
				continue
			}
			out[i] = int32(x)
		}
	}
	if odd {
		d.flagCodes(raw)
	}
}

// isCode tells whether a number can be a class code.
func isCode(x float64) bool { return x == math.Trunc(x) && math.Abs(x) <= math.MaxInt32 }

// handles keeps a reader's files open, the least recently used one closed when
// there are too many.
type handles struct{ files []handle }

type handle struct {
	file   *rasterFile
	ds     *godal.Dataset
	packed *packedReader // nil where the file is not read that way
}

func (h handle) close() error {
	var err error
	if h.packed != nil {
		err = h.packed.close()
	}
	return errors.Join(err, h.ds.Close(godal.ErrLogger(quiet)))
}

// mostHandles bounds the open files of one reader.
const mostHandles = 32

// open returns the open file; it stays open until others push it out.
func (h *handles) open(f *rasterFile) (handle, error) {
	for i, known := range h.files {
		if known.file == f {
			copy(h.files[1:i+1], h.files[:i])
			h.files[0] = known
			return known, nil
		}
	}
	ds, err := f.open()
	if err != nil {
		return handle{}, err
	}
	if len(h.files) == mostHandles {
		last := h.files[mostHandles-1]
		h.files = h.files[:mostHandles-1]
		if err := last.close(); err != nil {
			return handle{}, errors.Join(err, ds.Close(godal.ErrLogger(quiet)))
		}
	}
	h.files = append(h.files, handle{})
	copy(h.files[1:], h.files)
	h.files[0] = handle{f, ds, f.unpacking(ds)}
	return h.files[0], nil
}

// close closes all files.
func (h *handles) close() error {
	var errs []error
	for _, known := range h.files {
		errs = append(errs, known.close())
	}
	h.files = nil
	return errors.Join(errs...)
}
