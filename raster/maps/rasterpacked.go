package maps

import (
	"fmt"
	"os"
	"runtime"
	"strconv"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/inflate"
)

// packed is a TIFF file of one band in tiles under DEFLATE: the form in which
// most maps come. Its tiles are unpacked here, each once for all readers,
// which takes half the time of the usual way. Whatever goes wrong is left to
// the usual way, which knows what to say.
type packed struct {
	cols, rows int // of a tile
	kind       inflate.Kind
	form       storage // asFloat32 or asInt32
	predictor  inflate.Predictor

	sync.Mutex
	kept []*keptTile // the least recently used first
}

// keptCells are the numbers of a tile, in the form in which they are fetched:
// one of the two.
type keptCells struct {
	values []float32
	codes  []int32
}

// keptTile is one unpacked tile. It stays while somebody uses it.
type keptTile struct {
	col, row int
	users    int
	ready    sync.WaitGroup
	cells    keptCells
	sound    bool
}

// mostKept bounds the cells of unpacked tiles that are kept for all readers of
// a file.
var mostKept = 6 << 20

const (
	mostOfATile = 1 << 20 // cells of a tile that is unpacked here
	mostPacking = 2       // a packed tile may be so many times larger than its numbers, and is else none
)

// packing returns what tells how a file is packed, once for all its readers;
// it tells nil where the file is not in this form.
func packing(f *rasterFile) func(*godal.Dataset) *packed {
	var once sync.Once
	var known *packed
	kind, plain := packedKinds[f.kind]
	plain = plain && f.form != asFloat64 && f.bands == 1 && !strings.HasPrefix(f.path, "/vsi") && lender(f.path) == nil
	path, cols, form := f.path, f.cols, f.form
	return func(ds *godal.Dataset) *packed {
		once.Do(func() {
			if plain && littleEndian(path) {
				known = newPacked(ds, cols, kind, form)
			}
		})
		return known
	}
}

// packedKinds are the kinds of numbers that are unpacked here.
var packedKinds = map[godal.DataType]inflate.Kind{godal.Byte: inflate.Byte, godal.Int16: inflate.Int16,
	godal.UInt16: inflate.Uint16, godal.Int32: inflate.Int32, godal.Float32: inflate.Float32}

// newPacked returns how a file of some columns is packed; nil where it is in
// another form.
func newPacked(ds *godal.Dataset, cols int, kind inflate.Kind, form storage) *packed {
	if ds.Driver().ShortName() != "GTiff" {
		return nil
	}
	band := ds.Bands()[0]
	st := band.Structure()
	if band.Metadata("NBITS", godal.Domain("IMAGE_STRUCTURE")) != "" || ds.Metadata("COMPRESSION", godal.Domain("IMAGE_STRUCTURE")) != "DEFLATE" {
		return nil
	}
	p := &packed{cols: st.BlockSizeX, rows: st.BlockSizeY, kind: kind, form: form, predictor: inflate.Plain}
	if said := ds.Metadata("PREDICTOR", godal.Domain("IMAGE_STRUCTURE")); said != "" {
		number, err := strconv.Atoi(said)
		if err != nil {
			return nil
		}
		p.predictor = inflate.Predictor(number)
	}
	if p.cols*p.rows > mostOfATile || p.cols >= cols {
		return nil // strips, of which the last may be shorter
	}
	return p
}

// littleEndian tells whether a file begins as a TIFF file of that order.
func littleEndian(path string) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer file.Close()
	var order [2]byte
	_, err = file.ReadAt(order[:], 0)
	return err == nil && string(order[:]) == "II"
}

// packedReader reads a packed file for one goroutine.
type packedReader struct {
	*packed
	band    godal.Band
	file    *os.File
	decoder *inflate.Decoder
	bytes   []byte
}

// unpacking readies a file to be read by its tiles; nil where it cannot be.
func (f *rasterFile) unpacking(ds *godal.Dataset) *packedReader {
	p := f.packed(ds)
	if p == nil {
		return nil
	}
	file, err := os.Open(f.path)
	if err != nil {
		return nil
	}
	decoder := inflate.NewDecoder()
	if decoder == nil {
		file.Close()
		return nil
	}
	return &packedReader{packed: p, band: ds.Bands()[f.band], file: file, decoder: decoder}
}

func (p *packedReader) close() error {
	p.decoder.Close()
	return p.file.Close()
}

// readPacked copies a window of a file, which lies within it, into dst, which
// is of the form in which its numbers are fetched. It reports whether it could.
func readPacked[T int32 | float32](p *packedReader, dst []T, w raster.Window, of func(keptCells) []T) bool {
	for row := w.Row / p.rows; row*p.rows < w.EndRow(); row++ {
		for col := w.Col / p.cols; col*p.cols < w.EndCol(); col++ {
			tile := p.take(col, row)
			cells := of(tile.cells)
			if tile.sound {
				all := raster.Window{Col: col * p.cols, Row: row * p.rows, Cols: p.cols, Rows: p.rows}
				piece := all.Clip(w)
				for r := piece.Row; r < piece.EndRow(); r++ {
					copy(dst[w.Index(piece.Col, r):][:piece.Cols], cells[all.Index(piece.Col, r):])
				}
			}
			p.leave(tile)
			if !tile.sound {
				return false
			}
		}
	}
	return true
}

// values reads quantities, codes classes; see readPacked. A nil reader reads
// nothing.

func (p *packedReader) values(dst []float32, w raster.Window) bool {
	return p != nil && p.form == asFloat32 && readPacked(p, dst, w, func(c keptCells) []float32 { return c.values })
}

func (p *packedReader) codes(dst []int32, w raster.Window) bool {
	return p != nil && p.form == asInt32 && readPacked(p, dst, w, func(c keptCells) []int32 { return c.codes })
}

// take returns a tile to be left again, unpacked by whoever asks first.
func (p *packedReader) take(col, row int) *keptTile {
	p.Lock()
	for i, t := range p.kept {
		if t.col == col && t.row == row {
			copy(p.kept[i:], p.kept[i+1:])
			p.kept[len(p.kept)-1] = t
			t.users++
			p.Unlock()
			t.ready.Wait()
			return t
		}
	}
	t := &keptTile{col: col, row: row, users: 1, cells: p.room()}
	t.ready.Add(1)
	p.kept = append(p.kept, t)
	p.Unlock()
	t.sound = p.unpack(t)
	t.ready.Done()
	return t
}

func (p *packed) leave(t *keptTile) {
	p.Lock()
	t.users--
	p.Unlock()
}

// room returns cells for a tile: those of the tile that nobody has used for
// longest, once enough are kept. The lock is held.
func (p *packed) room() keptCells {
	size := p.cols * p.rows
	if (len(p.kept)+1)*size > mostKept {
		for i, t := range p.kept {
			if t.users == 0 {
				p.kept = append(p.kept[:i], p.kept[i+1:]...)
				return t.cells
			}
		}
	}
	if p.form == asInt32 {
		return keptCells{codes: make([]int32, size)}
	}
	return keptCells{values: make([]float32, size)}
}

// unpack reads a tile. The library says where it lies; a tile that is not
// there, and any that is not as it should be, is left to it.
func (p *packedReader) unpack(t *keptTile) bool {
	// The library answers in memory of the thread, which the next to ask it on
	// that thread may get too.
	runtime.LockOSThread()
	offset, err1 := strconv.ParseInt(p.tileFact("OFFSET", t), 10, 64)
	size, err2 := strconv.ParseInt(p.tileFact("SIZE", t), 10, 64)
	runtime.UnlockOSThread()
	if err1 != nil || err2 != nil || offset <= 0 || size <= 0 || size > int64(mostPacking*4*p.cols*p.rows+1024) {
		return false
	}
	p.bytes = sized(p.bytes, int(size))
	if n, err := p.file.ReadAt(p.bytes, offset); n < len(p.bytes) || err != nil {
		return false
	}
	if p.form == asInt32 {
		return inflate.Unpack(p.decoder, t.cells.codes, p.cols, p.bytes, p.kind, p.predictor) == nil
	}
	return inflate.Unpack(p.decoder, t.cells.values, p.cols, p.bytes, p.kind, p.predictor) == nil
}

func (p *packedReader) tileFact(what string, t *keptTile) string {
	return p.band.Metadata(fmt.Sprintf("BLOCK_%s_%d_%d", what, t.col, t.row), godal.Domain("TIFF"))
}
