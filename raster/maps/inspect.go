package maps

import (
	"encoding/xml"
	"errors"
	"fmt"
	"math"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// Inspection is what a raster file tells of itself when it is asked without a
// plan or a grid. What it does not tell is left zero instead of refused.
type Inspection struct {
	Path       string
	Format     string // in GDAL's word for it
	Files      []string
	CRS        string // "" where the file names none
	Affine     crs.Affine
	Placed     bool // the file says where its cells lie
	Cols, Rows int
	Bands      []InspectedBand // the first mostInspected of them
	BandCount  int
	Notes      []string // warnings on opening
}

// InspectedBand is what a band tells of itself, and a sample of its numbers.
type InspectedBand struct {
	Number        int // from 1
	Description   string
	Unit          string
	Type          string // "Int8" for signed bytes, whatever way they are stored
	SignedTag     bool   // a Byte band with the tag for signed bytes
	Alpha         bool   // it only tells what can be seen
	Masked        bool   // a mask or alpha band tells what is missing
	Whole         bool   // whole-numbered
	Low, High     float64
	Nodata        *float64 // nil where none is declared that could occur
	Scale, Offset float64
	Palette       bool             // its codes have colours
	Names         map[int32]string // its codes have names
	Notes         []string
	Sample        NumberSample
	Complex       bool // complex numbers, which are not sampled
}

// NumberSample is a bounded look at a band's numbers, the same each time.
type NumberSample struct {
	All     bool      // every cell was read
	Cells   int64     // looked at
	Missing int64     // declared missing, by nodata, mask or NaN
	Known   []float64 // the others, in the file's own numbers, before scale
	Why     string    // why nothing was looked at
}

const (
	mostInspected  = 64      // bands whose header is told
	mostSampled    = 8       // bands that are sampled
	sampleCells    = 1 << 20 // cells of a band looked at; a smaller band is read whole
	sampleBlocks   = 64      // pieces, spread evenly
	mostBlockBytes = 256 << 20
)

// Inspect opens one raster file and tells what it is. It reads at most about
// a million cells of each of the first eight bands, in pieces spread evenly.
//
// A [Problem] tells of a missing file, one that is no raster, and a virtual
// raster that carries code or reaches beyond its folder; damaged cells too.
func Inspect(path string) (*Inspection, error) {
	s := RasterSpec{Files: []string{path}}
	if err := Setup(0); err != nil {
		return nil, err
	}
	if err := s.validate(); err != nil {
		return nil, err
	}
	files, err := newBelongings(s.Files).of("", path)
	if err != nil {
		return nil, err
	}
	var said messages
	ds, err := openWithSides(path, said.handle)
	if err != nil {
		return nil, openFailure(&s, path, err)
	}
	defer ds.Close(godal.ErrLogger(quiet))
	driver := ds.Driver()
	in := &Inspection{Path: path, Format: driver.ShortName(), Files: files, Notes: said.notes, CRS: ds.Projection()}
	in.place(ds)
	if err := textGridShort(in.Format, path, in.Cols, in.Rows); err != nil {
		return nil, err
	}
	return in, in.readBands(&s, ds)
}

// place reads size and position.
func (in *Inspection) place(ds *godal.Dataset) {
	size := ds.Structure()
	in.Cols, in.Rows, in.BandCount = size.SizeX, size.SizeY, size.NBands
	affine, err := ds.GeoTransform(godal.ErrLogger(quiet))
	det := affine[1]*affine[5] - affine[2]*affine[4]
	if err == nil && det != 0 && !math.IsNaN(det) && !math.IsInf(det, 0) {
		in.Affine, in.Placed = crs.Affine(affine), true
	}
}

func (in *Inspection) readBands(s *RasterSpec, ds *godal.Dataset) error {
	bands := ds.Bands()
	if len(bands) == 0 {
		return s.problem(in.Path, "the file holds no band that can be read directly", "write the layer you want into a GeoTIFF of its own and name that")
	}
	for i := range bands[:min(len(bands), mostInspected)] {
		f := &rasterFile{path: in.Path, cols: in.Cols, rows: in.Rows, band: i, bands: len(bands)}
		b, err := f.inspect(ds, bands[i])
		if err != nil {
			return err
		}
		in.Bands = append(in.Bands, b)
	}
	return nil
}

// inspect tells of one band.
func (f *rasterFile) inspect(ds *godal.Dataset, band godal.Band) (InspectedBand, error) {
	out := InspectedBand{Number: f.band + 1, Description: band.Description(), Alpha: f.bands > 1 && band.ColorInterp() == godal.CIAlpha}
	if err := f.numbers(&RasterSpec{}, band); err != nil {
		out.Type, out.Complex = band.Structure().DataType.String(), true
		return out, nil
	}
	f.masking(ds.Bands())
	out.Type, out.SignedTag, out.Masked, out.Notes = f.kindName(), f.signed, f.masked, f.notes
	out.Nodata, out.Scale, out.Offset = f.nodata, f.scale, f.offset
	out.Low, out.High, out.Whole = f.span()
	out.Palette = len(band.ColorTable().Entries) > 0
	if err := f.words(ds, &out); err != nil {
		return out, err
	}
	if out.Alpha || f.band >= mostSampled {
		out.Sample.Why = "only the first bands are looked into"
		return out, nil
	}
	return out, f.sample(ds, band, &out.Sample)
}

// words reads the names of the codes and the unit.
func (f *rasterFile) words(ds *godal.Dataset, out *InspectedBand) error {
	text, err := virtualCopy(ds, f)
	if err != nil {
		return nil // a format that cannot be described so has neither
	}
	if out.Names, err = parseCategories(text); err != nil {
		out.Notes = append(out.Notes, "the class names that it carries cannot be read")
		return nil
	}
	if out.Unit, err = unitOf(text); err != nil {
		return fmt.Errorf("read the unit of %s: %w", f.path, err)
	}
	return nil
}

// unitOf returns the unit that the description of a band names; "" where it
// names none.
func unitOf(virtual []byte) (string, error) {
	var v struct {
		Unit string `xml:"VRTRasterBand>UnitType"`
	}
	err := xml.Unmarshal(virtual, &v)
	return v.Unit, err
}

// sample reads numbers of a band: all of a small one, else whole blocks spread
// evenly, as few as hold sampleCells.
func (f *rasterFile) sample(ds *godal.Dataset, band godal.Band, out *NumberSample) error {
	st := band.Structure()
	if block := int64(st.BlockSizeX) * int64(st.BlockSizeY) * 8; block > mostBlockBytes {
		out.Why = fmt.Sprintf("the file is stored in pieces of %d × %d cells, too large for a quick look", st.BlockSizeX, st.BlockSizeY)
		return nil
	}
	pieces := blockPieces(f.cols, f.rows, st.BlockSizeX, st.BlockSizeY)
	if int64(f.cols)*int64(f.rows) <= sampleCells {
		pieces, out.All = []raster.Window{{Cols: f.cols, Rows: f.rows}}, true
	}
	var numbers []float64
	var mask []byte
	for _, w := range pieces {
		numbers = sized(numbers, w.Size())
		err := band.Read(w.Col, w.Row, numbers, w.Cols, w.Rows, godal.ErrLogger(quiet))
		if err == nil && f.masked {
			mask = sized(mask, w.Size())
			err = f.mask(ds).Read(w.Col, w.Row, mask, w.Cols, w.Rows, godal.ErrLogger(quiet))
		}
		if err != nil {
			return f.unreadable(err)
		}
		f.sort(numbers, mask, out)
	}
	return nil
}

func (f *rasterFile) unreadable(cause error) error {
	if trouble := systemTrouble(f.path); trouble != nil {
		return fmt.Errorf("read %s: %w", f.path, errors.Join(trouble, cause))
	}
	return &Problem{File: f.path, Band: f.band + 1, What: "cells cannot be read: the file is damaged or cut short",
		Fix: "fetch or make the file again and compare its size with the original", Err: libraryWords{cause}}
}

// sort puts numbers to the known or to the missing ones.
func (f *rasterFile) sort(numbers []float64, mask []byte, out *NumberSample) {
	d := decoder{file: f, mask: mask}
	for i, x := range numbers {
		out.Cells++
		if x, ok := d.number(x, i); ok {
			out.Known = append(out.Known, x)
		} else {
			out.Missing++
		}
	}
}

// blockPieces chooses blocks of a raster, spread evenly along both axes: at
// most sampleBlocks, at most sampleCells cells together but at least one
// block. Of a large block its middle is taken.
func blockPieces(cols, rows, width, height int) []raster.Window {
	width, height = min(max(width, 1), cols), min(max(height, 1), rows)
	across, down := (cols+width-1)/width, (rows+height-1)/height
	n := min(max(sampleCells/(width*height), 1), sampleBlocks)
	nx := min(across, int(math.Ceil(math.Sqrt(float64(n)))))
	ny := min(down, max(n/nx, 1))
	nx = min(across, max(n/ny, 1))
	var out []raster.Window
	for j := range ny {
		for i := range nx {
			col, row := (2*i+1)*across/(2*nx)*width, (2*j+1)*down/(2*ny)*height
			w := raster.Window{Col: col, Row: row, Cols: min(width, cols-col), Rows: min(height, rows-row)}
			out = append(out, middlePart(w, sampleCells/(nx*ny)))
		}
	}
	return out
}

// middlePart returns the middle of a window, of about the given number of cells.
func middlePart(w raster.Window, cells int) raster.Window {
	if w.Size() <= max(cells, 1) {
		return w
	}
	side := max(int(math.Sqrt(float64(cells))), 1)
	c := min(w.Cols, side)
	r := min(w.Rows, max(cells/c, 1))
	c = min(w.Cols, max(cells/r, 1))
	return raster.Window{Col: w.Col + (w.Cols-c)/2, Row: w.Row + (w.Rows-r)/2, Cols: c, Rows: r}
}

// StandIn tells whether a number is one that map makers write where they know
// nothing.
func StandIn(x float64) bool { return sentinelFlag(x) != sound }
