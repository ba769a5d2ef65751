package maps

import (
	"errors"
	"fmt"
	"math"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// Raster is a map of one or more raster files, aligned to a grid. Any number
// of goroutines may use it, each with a Reader of its own.
type Raster struct {
	spec   RasterSpec
	grid   raster.Grid
	parts  []*part
	rules  rules
	facts  []Facts
	files  []string
	stamps []stamp
	tally  *tally
}

// Facts is what the header of one file told and how the file will be read.
type Facts struct {
	Path          string
	Cols, Rows    int
	Band, Bands   int // Band from 1
	Type          string
	CRS           string        // EPSG code, or the name where there is none
	CRSFrom       string        // "file" or "plan"
	CellX, CellY  float64       // of a cell at the middle of the overlap, in metres on the ground
	Nodata        *float64      // the file's own, nil where it declares none
	Masked        bool          // a mask or alpha band tells what is missing
	Scale, Offset float64       // in use
	ScaleFrom     string        // "file", "plan", or "" where the numbers are the values
	Operation     crs.Operation // from the grid's CRS to the file's
	Ratio         float64       // grid cell side / map cell side; up to 1 the map is refined
	Points        int           // k × k points a cell where it is coarsened; else 1
	SameLattice   bool          // cells of grid and file coincide: values are copied
	Part          int           // files with the same number are read as one
	Notes         []string      // warnings of the header
}

// OpenRaster opens the headers of a map's files, chooses the transformation
// to the grid and settles how the cells are aligned. It reads no cell.
//
// A [Problem] tells of a plan or file that must be changed: a missing file, a
// file that is no raster or lies wholly outside the grid, a missing CRS, many
// bands and none chosen, complex numbers, a virtual raster that carries code.
func OpenRaster(spec RasterSpec, g raster.Grid) (*Raster, error) {
	if err := Setup(0); err != nil {
		return nil, err
	}
	if err := spec.validate(); err != nil {
		return nil, err
	}
	r := &Raster{spec: spec, grid: g, rules: newRules(&spec)}
	headers, err := r.openHeaders()
	if err != nil {
		return nil, err
	}
	a := assembly{spec: &r.spec, grid: g}
	defer a.close()
	if r.parts, err = a.parts(headers); err != nil {
		return nil, err
	}
	r.tally = newTally(len(r.parts))
	r.facts = a.facts(headers, r.parts)
	return r, nil
}

// openHeaders reads the header of every file and notes the state of all files
// that belong to the map.
func (r *Raster) openHeaders() ([]*rasterFile, error) {
	own := newBelongings(r.spec.Files)
	var headers []*rasterFile
	for _, path := range r.spec.Files {
		f, err := own.openHeader(&r.spec, path)
		if err != nil {
			return nil, err
		}
		headers = append(headers, f)
		r.files = append(r.files, f.files...)
	}
	r.files = unique(r.files)
	for _, path := range r.files {
		s, err := stampOf(path)
		if err != nil {
			return nil, fmt.Errorf("map %q: %w", r.spec.Name, err)
		}
		r.stamps = append(r.stamps, s)
	}
	return headers, nil
}

// Facts returns what is known of each file, in the order of the files.
func (r *Raster) Facts() []Facts { return r.facts }

// Files returns every file that the map's values depend on: the files named,
// their side files (world files, .aux.xml, .prj, masks) and what virtual
// rasters refer to.
func (r *Raster) Files() []string { return r.files }

// Unchanged returns an error when one of the map's files is no longer as it
// was when it was opened. Call it after the last Read.
func (r *Raster) Unchanged() error {
	for _, s := range r.stamps {
		if err := s.unchanged(); err != nil {
			return fmt.Errorf("map %q: %w", r.spec.Name, err)
		}
	}
	return nil
}

// Reader opens a reader for one goroutine. Files are opened when they are
// first needed.
func (r *Raster) Reader() (Reader, error) {
	reader := &rasterReader{source: r, parts: make([]partReader, len(r.parts))}
	for i, p := range r.parts {
		reader.parts[i].part = p
	}
	return reader, nil
}

// Close is there for the interface; a Raster itself holds no file open.
func (r *Raster) Close() error { return nil }

// absent returns the value of ground that no file covers, and whether such
// ground has one.
func (r *Raster) absent() (float64, bool) {
	if r.spec.WhereAbsent == nil {
		return math.NaN(), false
	}
	return *r.spec.WhereAbsent, true
}

// readFailure explains why cells could not be read.
func (r *Raster) readFailure(f *rasterFile, cause error) error {
	if errors.Is(cause, errChanged) {
		return fmt.Errorf("map %q: %s: %w", r.spec.Name, f.path, cause)
	}
	if trouble := systemTrouble(f.path); trouble != nil {
		return fmt.Errorf("map %q: read %s: %w", r.spec.Name, f.path, trouble)
	}
	for _, s := range r.stamps {
		if err := s.unchanged(); err != nil {
			return fmt.Errorf("map %q: %w", r.spec.Name, err)
		}
	}
	return &Problem{Map: r.spec.Name, File: f.path, Band: f.band + 1,
		What: "cells cannot be read: the file is damaged or cut short",
		Fix:  "fetch or make the file again and compare its size with the original", Err: libraryWords{cause}}
}

// unique returns the names in order, each once.
func unique(names []string) []string {
	seen := make(map[string]bool, len(names))
	out := names[:0]
	for _, n := range names {
		if !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}
