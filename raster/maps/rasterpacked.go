package maps

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/inflate"
)

// packed is a TIFF file of one band of Float32 in tiles under DEFLATE: the
// form in which most elevation comes. Its tiles are unpacked here, each once
// for all readers, which takes half the time of the usual way. Whatever goes
// wrong is left to the usual way, which knows what to say.
type packed struct {
	cols, rows int // of a tile
	predictor  inflate.Predictor

	sync.Mutex
	kept []*keptTile // the least recently used first
}

// keptTile is one unpacked tile. It stays while somebody uses it.
type keptTile struct {
	col, row int
	users    int
	ready    sync.WaitGroup
	values   []float32
	sound    bool
}

// keptCells bounds the cells of unpacked tiles that are kept for all readers
// of a file.
var keptCells = 6 << 20

const (
	mostOfATile = 1 << 20 // cells of a tile that is unpacked here
	mostPacking = 2       // a packed tile may be so many times larger than its numbers, and is else none
)

// packing returns what tells how a file is packed, once for all its readers;
// it tells nil where the file is not in this form.
func packing(f *rasterFile) func(*godal.Dataset) *packed {
	var once sync.Once
	var known *packed
	plain := f.kind == godal.Float32 && f.bands == 1 && !strings.HasPrefix(f.path, "/vsi") && lender(f.path) == nil
	path, cols := f.path, f.cols
	return func(ds *godal.Dataset) *packed {
		once.Do(func() {
			if plain && littleEndian(path) {
				known = newPacked(ds, cols)
			}
		})
		return known
	}
}

// newPacked returns how a file of some columns is packed; nil where it is in
// another form.
func newPacked(ds *godal.Dataset, cols int) *packed {
	if ds.Driver().ShortName() != "GTiff" {
		return nil
	}
	band := ds.Bands()[0]
	st := band.Structure()
	if band.Metadata("NBITS", godal.Domain("IMAGE_STRUCTURE")) != "" || ds.Metadata("COMPRESSION", godal.Domain("IMAGE_STRUCTURE")) != "DEFLATE" {
		return nil
	}
	p := &packed{cols: st.BlockSizeX, rows: st.BlockSizeY, predictor: inflate.Plain}
	switch ds.Metadata("PREDICTOR", godal.Domain("IMAGE_STRUCTURE")) {
	case "", "1":
	case "3":
		p.predictor = inflate.Floating
	default:
		return nil
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

// read copies a window of the file, which lies within it, into dst. It
// reports whether it could.
func (p *packedReader) read(dst []float32, w raster.Window) bool {
	for row := w.Row / p.rows; row*p.rows < w.EndRow(); row++ {
		for col := w.Col / p.cols; col*p.cols < w.EndCol(); col++ {
			tile := p.take(col, row)
			if tile.sound {
				p.copy(dst, w, tile)
			}
			p.leave(tile)
			if !tile.sound {
				return false
			}
		}
	}
	return true
}

// copy copies what a tile has of a window.
func (p *packedReader) copy(dst []float32, w raster.Window, t *keptTile) {
	all := raster.Window{Col: t.col * p.cols, Row: t.row * p.rows, Cols: p.cols, Rows: p.rows}
	piece := all.Clip(w)
	for row := piece.Row; row < piece.EndRow(); row++ {
		copy(dst[w.Index(piece.Col, row):][:piece.Cols], t.values[all.Index(piece.Col, row):])
	}
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
	t := &keptTile{col: col, row: row, users: 1, values: p.room()}
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
func (p *packed) room() []float32 {
	if (len(p.kept)+1)*p.cols*p.rows > keptCells {
		for i, t := range p.kept {
			if t.users == 0 {
				p.kept = append(p.kept[:i], p.kept[i+1:]...)
				return t.values
			}
		}
	}
	return make([]float32, p.cols*p.rows)
}

// unpack reads a tile. The library says where it lies; a tile that is not
// there, and any that is not as it should be, is left to it.
func (p *packedReader) unpack(t *keptTile) bool {
	offset, err1 := strconv.ParseInt(p.tileFact("OFFSET", t), 10, 64)
	size, err2 := strconv.ParseInt(p.tileFact("SIZE", t), 10, 64)
	if err1 != nil || err2 != nil || offset <= 0 || size <= 0 || size > int64(mostPacking*4*len(t.values)+1024) {
		return false
	}
	p.bytes = sized(p.bytes, int(size))
	if n, err := p.file.ReadAt(p.bytes, offset); n < len(p.bytes) || err != nil {
		return false
	}
	return p.decoder.Float32(t.values, p.cols, p.bytes, p.predictor) == nil
}

func (p *packedReader) tileFact(what string, t *keptTile) string {
	return p.band.Metadata(fmt.Sprintf("BLOCK_%s_%d_%d", what, t.col, t.row), godal.Domain("TIFF"))
}
