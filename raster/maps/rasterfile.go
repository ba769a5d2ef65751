package maps

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// storage is the form in which a band's numbers are fetched: one that holds
// each of them without loss, so that missing values compare exactly.
type storage int

const (
	asFloat32 storage = iota // quantities in Byte, Int16, UInt16, Float32
	asFloat64                // all other numbers, and classes in floating point
	asInt32                  // classes in whole numbers of at most 32 bits
)

// rasterFile is what a file's header says about the band that is read.
type rasterFile struct {
	path       string
	files      []string // it and what belongs to it
	cols, rows int
	affine     crs.Affine
	crsText    string
	band       int // from 0
	bands      int
	kind       godal.DataType
	form       storage
	signed     bool // Byte whose numbers from 128 on mean -128 to -1
	masked     bool // a mask or alpha band tells what is missing
	alpha      int  // that band, from 0, where GDAL does not take it for a mask itself; else -1
	nodata     *float64
	missing    []Range // nodata and the plan's, narrowed to the stored form
	scale      float64
	offset     float64
	scaleFrom  string
	notes      []string
	at         raster.Window                // place in the lattice of its part
	packed     func(*godal.Dataset) *packed // how its tiles are packed; nil where they are not unpacked here
}

// openHeader reads a file's header and settles how its band is read.
func openHeader(s *RasterSpec, path string) (*rasterFile, error) {
	return newBelongings(s.Files).openHeader(s, path)
}

// openHeader does so for one of many files, and finds what belongs to it.
func (b *belongings) openHeader(s *RasterSpec, path string) (*rasterFile, error) {
	files, err := b.of(s.Name, path)
	if err != nil {
		return nil, err
	}
	var said messages
	ds, err := openWithSides(path, said.handle)
	if err != nil {
		return nil, openFailure(s, path, err)
	}
	defer ds.Close(godal.ErrLogger(quiet))
	f := &rasterFile{path: path, files: files, notes: append(said.notes, b.notes...), bands: len(ds.Bands())}
	if f.band, err = chooseBand(s, path, ds); err != nil {
		return nil, err
	}
	if err := f.place(s, ds); err != nil {
		return nil, err
	}
	band := ds.Bands()[f.band]
	if err := f.numbers(s, band); err != nil {
		return nil, err
	}
	f.masking(ds.Bands())
	if err := f.plausible(ds.Driver().ShortName(), band); err != nil {
		return nil, err
	}
	f.packed = packing(f)
	return f, f.heightUnit(s, ds)
}

// heightUnit holds the unit that a file of heights names against the plan's:
// feet that are taken for metres make all slopes more than three times as
// steep. Formats that name no unit are taken at the plan's word.
func (f *rasterFile) heightUnit(s *RasterSpec, ds *godal.Dataset) error {
	if !s.Elevation {
		return nil
	}
	text, err := virtualCopy(ds, f)
	if err != nil {
		return nil
	}
	unit, err := unitOf(text)
	if err != nil || unit == "" {
		return err
	}
	feet, metres := unitWords(unit)
	switch {
	case feet && s.Unit == "":
		p := s.problem(f.path, fmt.Sprintf("the file says that its heights are in %q, and the plan does not say in what they are", unit), "say unit: ft; or unit: m if the file is wrong")
		p.Band = f.band + 1
		return p
	case feet && s.Unit == "m", metres && s.Unit == "ft":
		f.notes = append(f.notes, fmt.Sprintf("the file says that its heights are in %q, and the plan that they are in %s: the plan is believed", unit, s.Unit))
	}
	return nil
}

// unitWords tells whether a unit is a foot of some kind, or the metre.
func unitWords(unit string) (feet, metres bool) {
	lower := strings.ToLower(unit)
	for _, word := range []string{"ft", "foot", "feet"} {
		feet = feet || strings.Contains(lower, word)
	}
	return feet, lower == "m" || strings.HasPrefix(lower, "metre") || strings.HasPrefix(lower, "meter")
}

// openWithSides opens a raster for reading together with its side files, which
// godal leaves out unless it is told otherwise.
func openWithSides(path string, handle godal.ErrorHandler) (*godal.Dataset, error) {
	options := []godal.OpenOption{godal.RasterOnly(), godal.SiblingFiles(), godal.ErrLogger(handle)}
	if strings.EqualFold(filepath.Ext(path), ".gpkg") && vector.WriteAhead(path) {
		options = append(options, godal.DriverOpenOption("IMMUTABLE=YES")) // else files are left beside it
	}
	ds, err := godal.Open(path, options...)
	if err != nil {
		return nil, err
	}
	if name := ds.Metadata("OVERVIEW_FILE", godal.Domain("OVERVIEWS")); !harmlessOverviews(path, name) {
		return nil, errors.Join(&Problem{File: path, What: fmt.Sprintf("it names %s as its file of overviews, which is no plain file beside it", name),
			Fix: "take that name out of its side file (.aux.xml), or write the map into a new GeoTIFF without overviews"}, ds.Close(godal.ErrLogger(quiet)))
	}
	return ds, nil
}

// harmlessOverviews tells whether a file of overviews that a map or its side
// file names lies beside the map. GDAL opens it as soon as it is asked for
// masks, though no overview is ever read here.
func harmlessOverviews(path, name string) bool {
	name = strings.TrimPrefix(name, ":::BASE:::")
	if name == "" {
		return true
	}
	if strings.ContainsAny(name, "/\\:") {
		return false
	}
	info, err := os.Lstat(filepath.Join(filepath.Dir(path), name))
	return err != nil || info.Mode().IsRegular()
}

// openFailure explains why a file does not open as a raster.
func openFailure(s *RasterSpec, path string, cause error) error {
	var known *Problem
	if errors.As(cause, &known) {
		known.Map = s.Name
		return known
	}
	if trouble := systemTrouble(path); trouble != nil {
		return fmt.Errorf("map %q: %w", s.Name, trouble)
	}
	p := s.problem(path, "this does not open as a raster map", "give a raster that GDAL reads (a GeoTIFF, say); a map of polygons needs field: with the column of its values, an index of tiles index: with the column of their paths; a damaged file must be fetched again")
	if head, err := firstBytes(path, 4); err == nil && isTIFF(head) {
		p.What, p.Fix = "this GeoTIFF is damaged or cut short: what it holds cannot be found in it", "fetch or make the file again and compare its size with the original"
	}
	p.Err = libraryWords{cause}
	return p
}

// isTIFF tells by its first bytes whether a file claims to be a TIFF or BigTIFF
// (TIFF 6.0, section 2; BigTIFF has 43 in place of 42).
func isTIFF(head []byte) bool {
	return slices.Contains([]string{"II*\x00", "MM\x00*", "II+\x00", "MM\x00+"}, string(head))
}

// firstBytes returns the first n bytes of a file.
func firstBytes(path string, n int) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head := make([]byte, n)
	_, err = io.ReadFull(f, head)
	return head, err
}

// libraryWords is a failure in the words of the library that reads a file.
type libraryWords struct{ cause error }

// Error tells the first of the several things that the library says at once.
func (l libraryWords) Error() string {
	first, _, _ := strings.Cut(l.cause.Error(), "\n")
	return "the library says: " + first
}

// Unwrap returns all that it says.
func (l libraryWords) Unwrap() error { return l.cause }

// chooseBand returns the band to read, from 0. An alpha band is no choice.
func chooseBand(s *RasterSpec, path string, ds *godal.Dataset) (int, error) {
	bands := ds.Bands()
	if len(bands) == 0 {
		return 0, s.problem(path, "the file holds no band that can be read directly", "write the layer you want into a GeoTIFF of its own and name that")
	}
	if s.Band > 0 {
		if s.Band > len(bands) {
			p := s.problem(path, fmt.Sprintf("there is no band %d; the file has %d", s.Band, len(bands)), fmt.Sprintf("say band: with a number from 1 to %d", len(bands)))
			return 0, p
		}
		return s.Band - 1, nil
	}
	only := -1
	for i, b := range bands {
		if len(bands) > 1 && b.ColorInterp() == godal.CIAlpha {
			continue
		}
		if only >= 0 {
			return 0, s.problem(path, fmt.Sprintf("the file has %d bands", len(bands)), "say which one with band: (from 1)"+bandNames(bands))
		}
		only = i
	}
	return max(only, 0), nil
}

// bandNames lists the descriptions of bands, as far as there are any.
func bandNames(bands []godal.Band) string {
	out := ""
	for i, b := range bands[:min(len(bands), 20)] {
		if d := b.Description(); d != "" {
			out += fmt.Sprintf("; %d is %q", i+1, d)
		}
	}
	return out
}

// place reads size, position and CRS.
func (f *rasterFile) place(s *RasterSpec, ds *godal.Dataset) error {
	size := ds.Structure()
	f.cols, f.rows = size.SizeX, size.SizeY
	affine, err := ds.GeoTransform(godal.ErrLogger(quiet))
	if err != nil {
		return s.problem(f.path, "the file does not say where on earth its cells lie", "give a georeferenced copy of the map, or put its world file beside it")
	}
	f.affine = crs.Affine(affine)
	if det := affine[1]*affine[5] - affine[2]*affine[4]; det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return s.problem(f.path, "the file gives its cells no size", "give a georeferenced copy of the map")
	}
	f.crsText = s.CRS
	if f.crsText == "" {
		f.crsText = ds.Projection()
	}
	if f.crsText == "" {
		return s.problem(f.path, "the file does not say in which coordinate reference system its positions are", "say crs: with the system the map was made in (EPSG:27700, say)")
	}
	return nil
}

// numbers settles type, scale and missing values.
func (f *rasterFile) numbers(s *RasterSpec, band godal.Band) error {
	st := band.Structure()
	f.kind = st.DataType
	if err := f.chooseForm(s, band); err != nil {
		return err
	}
	f.scale, f.offset, f.scaleFrom = st.Scale, st.Offset, "file"
	if f.scale == 0 || math.IsNaN(f.scale) {
		f.scale = 1
	}
	if s.Scale != nil || s.Offset != nil {
		f.scale, f.offset, f.scaleFrom = 1, 0, "plan"
	}
	if s.Scale != nil {
		f.scale = *s.Scale
	}
	if s.Offset != nil {
		f.offset = *s.Offset
	}
	if f.scaleFrom == "file" && f.scale == 1 && f.offset == 0 {
		f.scaleFrom = ""
	}
	if s.Classes {
		f.scale, f.offset, f.scaleFrom = 1, 0, ""
	}
	f.missingNumbers(s, band)
	return nil
}

// chooseForm picks the form in which the band's numbers are fetched.
func (f *rasterFile) chooseForm(s *RasterSpec, band godal.Band) error {
	switch f.kind {
	case godal.CInt16, godal.CInt32, godal.CFloat32, godal.CFloat64, godal.Unknown:
		p := s.problem(f.path, "the band holds complex numbers", "give a band of plain numbers")
		p.Band = f.band + 1
		return p
	case godal.Byte:
		f.form = asFloat32
		f.signed = band.Metadata("PIXELTYPE", godal.Domain("IMAGE_STRUCTURE"), godal.ErrLogger(quiet)) == "SIGNEDBYTE"
	case godal.Int8, godal.Int16, godal.UInt16, godal.Float32:
		f.form = asFloat32
	default:
		f.form = asFloat64
	}
	if !s.Classes {
		return nil
	}
	switch f.kind {
	case godal.Byte, godal.Int8, godal.Int16, godal.UInt16, godal.Int32:
		f.form = asInt32
	default:
		f.form = asFloat64
	}
	return nil
}

// missingNumbers gathers the file's nodata and the plan's missing values, in
// the precision of the stored form.
func (f *rasterFile) missingNumbers(s *RasterSpec, band godal.Band) {
	if nd, ok := band.NoData(); ok && !math.IsNaN(nd) {
		if low, high, whole := f.span(); whole && (nd != math.Trunc(nd) || nd < low || nd > high) {
			f.notes = append(f.notes, fmt.Sprintf("nodata %g cannot occur in a band of type %s and is ignored", nd, f.kindName()))
		} else {
			f.nodata = &nd
			f.missing = append(f.missing, Range{nd, nd})
		}
	}
	f.missing = append(f.missing, s.Missing...)
	_, _, whole := f.span()
	for i, r := range f.missing {
		switch {
		case whole:
			f.missing[i] = Range{math.Ceil(r.From), math.Floor(r.To)}
		case f.kind == godal.Float32:
			f.missing[i] = Range{float64(float32(r.From)), float64(float32(r.To))}
		}
	}
}

// span returns the numbers that a whole-numbered type can hold.
func (f *rasterFile) span() (low, high float64, whole bool) {
	switch f.kind {
	case godal.Byte:
		if f.signed {
			return math.MinInt8, math.MaxInt8, true
		}
		return 0, math.MaxUint8, true
	case godal.Int8:
		return math.MinInt8, math.MaxInt8, true
	case godal.Int16:
		return math.MinInt16, math.MaxInt16, true
	case godal.UInt16:
		return 0, math.MaxUint16, true
	case godal.Int32:
		return math.MinInt32, math.MaxInt32, true
	case godal.UInt32:
		return 0, math.MaxUint32, true
	}
	return 0, 0, false
}

// kindName is the name of the band's type, "signed byte" told apart.
func (f *rasterFile) kindName() string {
	if f.signed {
		return "Int8"
	}
	return f.kind.String()
}

// Bits of the flags that GDAL gives a band's mask.
const (
	maskOfFile  = 0x02
	maskAlpha   = 0x04
	maskNoData  = 0x08
	maskMatters = maskOfFile | maskAlpha
)

// masking finds out whether a mask or alpha band is to be read as well.
func (f *rasterFile) masking(bands []godal.Band) {
	flags := bands[f.band].MaskFlags()
	f.masked, f.alpha = flags&maskMatters != 0 && flags&maskNoData == 0, -1
	if f.masked || flags&maskNoData != 0 {
		return
	}
	// GDAL takes alpha bands of one or two bytes alone for masks; what it
	// writes beside floating-point values is no less one.
	for i, b := range bands {
		if i != f.band && b.ColorInterp() == godal.CIAlpha {
			f.masked, f.alpha = true, i
		}
	}
}

// mask returns the band that is 0 where nothing is known.
func (f *rasterFile) mask(ds *godal.Dataset) godal.Band {
	if f.alpha >= 0 {
		return ds.Bands()[f.alpha]
	}
	return ds.Bands()[f.band].MaskBand()
}

// open opens the file for one reader and makes sure that it still is what its
// header said.
func (f *rasterFile) open() (*godal.Dataset, error) {
	ds, err := openWithSides(f.path, quiet)
	if err != nil {
		return nil, err
	}
	if st := ds.Structure(); st.SizeX != f.cols || st.SizeY != f.rows || f.band >= st.NBands {
		return nil, errors.Join(errChanged, ds.Close(godal.ErrLogger(quiet)))
	}
	return ds, nil
}
