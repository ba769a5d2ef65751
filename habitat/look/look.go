// Package look tells what a map is before anybody has written a plan: where
// it lies, how large its cells are, what values or classes it holds, what is
// odd about it, and which lines of a plan would read it.
//
// [File] looks at one file. Of large files it looks at a sample: at most about
// a million cells of a band, in pieces spread evenly, or the fields of the
// first 50 000 features; the same ones each time. A sample can miss things: a
// run looks at every cell it reads. Opening files is left to raster/maps and
// vector, reading plans to habitat/plan.
//
// Values are told in physical units, after the file's scale; class codes and
// what to write under missing: in the file's own numbers. Shares are of the
// known cells or features looked at, 0 to 1. Nothing here comes from a
// publication: the rules of thumb are common practice, no source, and each
// stands with the suspicion that it raises.
package look

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
	"likelyground/vector"
)

// Map is what was seen of one file.
type Map struct {
	File   string `json:"file"`
	Kind   string `json:"kind"`   // "raster" or "features"
	Format string `json:"format"` // in GDAL's word for it

	*Lattice `json:",omitempty"` // of a raster
	Bands    []Band              `json:"bands,omitempty"`
	Layers   []Layer             `json:"layers,omitempty"`

	Suspicions []Suspicion `json:"suspicions"`

	Holds   string `json:"holds"`             // what the lines read: "heights", "pH", "percent", "amounts", "classes", or "nothing" that can be rated
	Guess   bool   `json:"guess,omitempty"`   // classes only because the numbers are whole and few
	Surface bool   `json:"surface,omitempty"` // heights of tree tops and roofs, by the file's name
	Layer   int    `json:"-"`                 // of Layers, the one that the lines read
	Lines   []Line `json:"-"`                 // of the plan, below the map's name

	Name string `json:"name"` // proposed for the plan
	Plan string `json:"plan"` // lines to paste below `maps:`
}

// Lattice is where the cells of a raster lie.
type Lattice struct {
	Place
	Columns int   `json:"columns"`
	Rows    int   `json:"rows"`
	Cell    *Cell `json:"cell"` // nil where the file does not say
}

// Cell is the size of a cell, at the middle of the map.
type Cell struct {
	Width        float64 `json:"width"` // in units of the CRS
	Height       float64 `json:"height"`
	WidthMetres  float64 `json:"width_m"` // on the ground; 0 where it is not known
	HeightMetres float64 `json:"height_m"`
}

// Place is where a map lies.
type Place struct {
	CRS    *CRS `json:"crs"`     // nil where the file names none that is understood
	Extent *Box `json:"extent"`  // in the CRS, x east and y north; nil where not known
	LonLat *Box `json:"lon_lat"` // degrees; west above east across the antimeridian
}

// CRS is a coordinate reference system.
type CRS struct {
	Name       string `json:"name"`
	Code       string `json:"code"` // "EPSG:25831"; "" without one
	Unit       string `json:"unit"` // "m", "ft", "degrees" …
	Geographic bool   `json:"geographic"`
}

// Box is a rectangle.
type Box struct {
	West  float64 `json:"west"`
	South float64 `json:"south"`
	East  float64 `json:"east"`
	North float64 `json:"north"`
}

// Band is a band of a raster.
type Band struct {
	Number      int      `json:"band"` // from 1
	Description string   `json:"description"`
	Type        string   `json:"type"`
	Unit        string   `json:"unit"`   // as the file says it
	Nodata      *float64 `json:"nodata"` // as the file declares it
	Masked      bool     `json:"masked"`
	Scale       float64  `json:"scale"`
	Offset      float64  `json:"offset"`
	Sample      Sample   `json:"sample"`
	BuiltIn     string   `json:"built_in_legend,omitempty"` // one of the program's that would fit
	Values      *Values  `json:"values,omitempty"`          // of a quantity
	Classes     []Class  `json:"classes,omitempty"`         // of classes, the largest first
}

// Sample says how much was looked at.
type Sample struct {
	All     bool   `json:"all"`
	Cells   int64  `json:"cells"`
	Missing int64  `json:"missing"` // declared missing
	Why     string `json:"why,omitempty"`
}

// Values sums up the known values of a sample, without numbers that look like
// a sign for no data.
type Values struct {
	Low       float64   `json:"low"`
	High      float64   `json:"high"`
	Median    float64   `json:"median"`
	Histogram []Bin     `json:"histogram"`
	Without   []float64 `json:"without"` // such numbers, in the file's own
}

// Bin is a step of a histogram: values from From up to below To.
type Bin struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Share float64 `json:"share"`
}

// Class is a class code of a raster or a text of a field.
type Class struct {
	Code  *int64  `json:"code,omitempty"`
	Name  string  `json:"name,omitempty"`
	Share float64 `json:"share"`
}

// Layer is a layer of features.
type Layer struct {
	Place
	Name     string  `json:"layer"`
	Shapes   string  `json:"shapes"` // "polygons", "points" …
	Features int     `json:"features"`
	Read     int     `json:"features_read"`
	Fields   []Field `json:"fields"`
}

// Field is a field of a layer; shares and counts are of the features read.
type Field struct {
	Name    string   `json:"field"`
	Kind    string   `json:"kind"` // "text", "whole numbers", "numbers"
	Null    int      `json:"null"`
	Empty   int      `json:"empty"`
	Unlike  int      `json:"different"` // texts or whole numbers
	More    bool     `json:"more"`      // there are more than that
	Low     *float64 `json:"low,omitempty"`
	High    *float64 `json:"high,omitempty"`
	Classes []Class  `json:"classes,omitempty"`         // the most frequent
	BuiltIn string   `json:"built_in_legend,omitempty"` // one of the program's that would fit
}

// Suspicion is something odd that a person should know.
type Suspicion struct {
	Where string `json:"where,omitempty"` // "band 2", `layer "rock"`
	What  string `json:"what"`
	Fix   string `json:"fix"`
}

func (m *Map) suspect(where, what, fix string) {
	m.Suspicions = append(m.Suspicions, Suspicion{where, what, fix})
}

// Fault is a file that cannot be looked at until something is changed.
type Fault struct {
	File, What, Fix string
	Err             error // the cause; may be nil
}

// Error says what is wrong.
func (f *Fault) Error() string { return vector.Shown(f.File) + ": " + f.What }

// Remedy says what to do.
func (f *Fault) Remedy() string { return f.Fix }

// MustChange reports true: trying again cannot help.
func (f *Fault) MustChange() bool { return true }

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// featureEndings are the endings of files that hold features rather than a
// raster.
var featureEndings = []string{".gpkg", ".shp", ".geojson", ".json", ".gdb", ".fgb", ".gml", ".kml", ".kmz", ".tab", ".mif", ".sqlite", ".geojsonl", ".topojson"}

// File looks at one file: a raster or features, whichever it proves to be, or
// the map in an archive that the path leads to; see package unpack. It writes
// nothing but scratch, gone at the end, and contacts no address.
//
// The error has a Remedy where the file must be changed: one that is not
// there, is no map or is damaged.
func File(path string) (*Map, error) { return Looker{}.file(context.Background(), path) }

// one looks at a map that can be opened as it is.
func one(path string) (*Map, error) {
	tries := []func(string) (*Map, error){lookAtRaster, lookAtFeatures}
	ending := strings.ToLower(filepath.Ext(path))
	features := slices.Contains(featureEndings, ending)
	if features {
		slices.Reverse(tries)
	}
	m, first := tries[0](path)
	if first == nil {
		return m, nil
	}
	m, second := tries[1](path)
	if second == nil {
		return m, nil
	}
	if !notThatKind(first) || features {
		return nil, first
	}
	if !notThatKind(second) {
		return nil, second
	}
	return nil, &Fault{File: path, What: "this is no map that can be read", Err: first,
		Fix: "give a raster (a GeoTIFF, say) or features (a GeoPackage, shapefile or GeoJSON); if it is one, it is damaged: fetch it again"}
}

// notThatKind tells whether an error only says that a file does not open.
func notThatKind(err error) bool {
	var r *maps.Problem
	var v *vector.Problem
	switch {
	case errors.As(err, &r):
		return strings.Contains(r.What, "does not open as a raster")
	case errors.As(err, &v):
		return strings.Contains(v.What, "cannot be read as a map") || strings.Contains(v.What, "holds no layer")
	}
	return false
}

// there refuses a file that is not there, in words that need no plan.
func there(path string) error {
	var p *vector.Problem
	if errors.As(vector.Reachable(path), &p) {
		return &Fault{File: p.File, What: p.What, Fix: p.Fix}
	}
	_, err := os.Stat(path)
	if err == nil {
		return nil
	}
	if errors.Is(err, syscall.ENOTDIR) {
		err = os.ErrNotExist
	}
	if !errors.Is(err, os.ErrNotExist) {
		return err
	}
	f := &Fault{File: path, What: "there is no such file", Fix: "correct the path"}
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		f.Fix = fmt.Sprintf("the folder %s cannot be read either: correct the path", filepath.Dir(path))
		return f
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if near := plan.Suggest(filepath.Base(path), names); near != "" {
		f.Fix = "did you mean " + filepath.Join(filepath.Dir(path), near) + "?"
	}
	return f
}

// Files looks at several files on this machine; see [Looker.Files].
func Files(ctx context.Context, paths []string) ([]*Map, error) { return Looker{}.Files(ctx, paths) }

// Files looks at several files and gives each map a name of its own. With
// files that cannot be looked at, the others are returned all the same; the
// error joins what is wrong. It stops between files when ctx ends.
func (l Looker) Files(ctx context.Context, paths []string) ([]*Map, error) {
	var out []*Map
	var wrong []error
	taken := map[string]bool{}
	for _, path := range paths {
		if ctx.Err() != nil {
			return out, context.Cause(ctx)
		}
		m, err := l.file(ctx, path)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		m.rename(taken)
		out = append(out, m)
	}
	if len(wrong) == 1 {
		return out, wrong[0]
	}
	return out, errors.Join(wrong...)
}
