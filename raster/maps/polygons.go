package maps

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// PolygonSpec says which layer of polygons makes up a map and what in it is
// the class.
type PolygonSpec struct {
	Name  string // the plan's name of the map, for messages
	File  string
	Layer string   // may be empty where the file has one layer
	Field string   // the attribute that is the class; not used with AsMask
	Else  []string // attributes asked in order where those before are NULL, empty or missing

	Parts     []PartField // a polygon is of several classes, each a share of it; Field and Else are not used then
	ShareUnit ShareUnit   // "": percent where a share of the layer is above 1, else fractions

	Where  string  // a condition on the layer's fields; see package where. "": every feature
	Radius float64 // metres around a point that it stands for; 0: points are no ground
	Width  float64 // metres of ground along a line, half of it on either side; 0: lines are no ground

	CRS           string                 // replaces what the file says
	AllowBallpark bool                   // accept a transformation without datum shift
	Missing       []Range                // class numbers that stand for no knowledge
	NoData        func(text string) bool // texts that stand for no knowledge; may be nil
	WhereAbsent   string                 // class, or its number, of ground that no polygon covers; "": missing. Of a quantity see Numbers
	Numbers       *RasterSpec            // the field is a quantity, its numbers read as this says (scale, missing, …); nil: classes
	AsMask        bool                   // code 1 inside any polygon, 0 outside, never missing
	Scratch       string                 // folder for the rasterised outlines; "" takes the system's

	Context context.Context // ends the reading of the layer early; may be nil
}

// PolygonFacts is what one reading of a layer told.
type PolygonFacts struct {
	Path, Layer, Format string  // empty for a box of the plan
	CRS                 string  // EPSG code, or the name where there is none
	CRSFrom             string  // "file" or "plan"
	Radius, Width       float64 // metres, as in the spec

	Features     int // all of the layer
	NullGeometry int // without geometry: they cover nothing
	LeftOut      int // the condition is not true of them
	NotPolygons  int // points and lines without radius or width, empty geometries: they cover nothing
	Points       int // of these, those that hold points
	Lines        int // of these, those that hold lines
	Repaired     int // invalid geometries: even-odd filling covers what repair by linework leaves
	Unchecked    int // geometries too tangled to be asked whether they are valid; filled even-odd too
	Unclassed    int // polygons whose class is NULL or empty: missing where they win
	HalfUnknown  int // polygons of parts of which less than half is known: likewise
	OddShares    int // polygons whose shares are negative or come to over 101 %: likewise
	NoShares     int // polygons of which more than one part has no share: those parts are unknown
	Recoded      int // texts that were not UTF-8, read as Windows-1252
	Beyond       int // features that cover no cell of the grid

	ShareUnit    ShareUnit     // of shares of parts; "" where there are none
	ShareGuessed bool          // by whether one of the layer is above 1
	Operation    crs.Operation // from the layer's CRS to the grid's
	Notes        []string      // warnings on opening
}

// Polygons is a layer of polygons laid on a grid. Any number of goroutines
// may use it, each with a Reader of its own.
//
// A polygon covers a cell when it holds the cell's centre; where several do,
// the later feature wins, and where its class is missing the cell's is. A
// border within 1e-6 of a cell from a centre lies on it and goes right and
// below: of two neighbours that share the border, the left or upper one
// covers the cell. Edges are straight in the layer's own CRS and at most
// 1/2000 of a cell off on the grid. A ring that crosses itself, and a hole
// beyond its polygon, are filled even-odd; the polygons of one feature are
// joined. A point or line that has a radius or width covers the cells whose
// centre lies within the radius, or half the width, of it, in metres of the
// grid's CRS.
type Polygons struct {
	spec    PolygonSpec
	grid    raster.Grid
	facts   PolygonFacts
	classes []string
	numeric bool
	numbers *numbers // nil: classes

	mixtures []Mixture // nil: polygons have one class each
	base     int32     // class number of ground that no polygon covers
	served   raster.Window
	runs     *runStore
	tree     *boxTree
	tally    polygonTally
	stamps   []stamp
}

// OpenPolygons reads a layer once and keeps, in a scratch file without a
// name, which cells of each grid row each polygon covers; in memory stays an
// index of some 50 bytes a polygon. Polygons are known some way beyond the
// grid, for neighbourhoods that reach over its rim: 8192 cells or 100 km,
// whichever is less, and 64 cells at least; farther out nothing is.
//
// A [Problem] tells what must be changed: a missing file, layer or field, a
// layer without CRS, of no polygons, empty, or wholly outside the grid, a
// class that is no whole number, geometry that has no place on the grid.
func OpenPolygons(spec PolygonSpec, g raster.Grid) (*Polygons, error) {
	if err := Setup(0); err != nil {
		return nil, err
	}
	layer, err := vector.OpenWith(spec.File, spec.options())
	if err != nil {
		return nil, spec.about(err)
	}
	defer layer.Close()
	p := &Polygons{spec: spec, grid: g, facts: layerFacts(spec, layer)}
	if err := p.stampFiles(); err != nil {
		return nil, err
	}
	if err := p.load(layerOutlines{layer: layer, spec: &p.spec}); err != nil {
		return nil, err
	}
	return p, nil
}

// options is what is wanted of the file.
func (s *PolygonSpec) options() vector.Options {
	return vector.Options{Layer: s.Layer, CRS: s.CRS, Where: s.Where, Points: s.Radius > 0, Lines: s.Width > 0, PolygonsAlone: s.AsMask}
}

func layerFacts(spec PolygonSpec, layer *vector.Layer) PolygonFacts {
	f := PolygonFacts{Path: spec.File, Layer: layer.Name, Format: layer.Driver, CRSFrom: "file", Radius: spec.Radius, Width: spec.Width, Notes: layer.Warnings}
	if spec.CRS != "" {
		f.CRSFrom = "plan"
	}
	return f
}

// Facts returns what is known of the layer.
func (p *Polygons) Facts() PolygonFacts { return p.facts }

// Numeric reports whether the codes are the field's own whole numbers; else
// a code is an index into [Polygons.Classes].
func (p *Polygons) Numeric() bool { return p.numeric }

// Classes returns the texts of the field, sorted by their bytes; the code of
// a cell is the index of its text. It is nil where the codes are numbers.
func (p *Polygons) Classes() []string { return p.classes }

// Files returns the files that the map's values depend on.
func (p *Polygons) Files() []string {
	names := make([]string, len(p.stamps))
	for i, s := range p.stamps {
		names[i] = s.path
	}
	return names
}

// Unchanged returns an error when one of the map's files is no longer as it
// was when it was read.
func (p *Polygons) Unchanged() error {
	for _, s := range p.stamps {
		if err := s.unchanged(); err != nil {
			return fmt.Errorf("map %q: %w", p.spec.Name, err)
		}
	}
	return nil
}

// Close frees the scratch file; readers are closed first.
func (p *Polygons) Close() error {
	if p.runs == nil {
		return nil
	}
	return p.runs.close()
}

// stampFiles notes the state of every file of the layer.
func (p *Polygons) stampFiles() error {
	for _, path := range layerFiles(p.spec.File) {
		s, err := stampOf(path)
		if err != nil {
			return fmt.Errorf("map %q: %w", p.spec.Name, err)
		}
		p.stamps = append(p.stamps, s)
	}
	return nil
}

// layerFiles lists the files of a layer: all of a folder, the members of a
// shapefile or of a MapInfo table, else the file alone.
func layerFiles(path string) []string {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		inside, _ := filepath.Glob(filepath.Join(path, "*"))
		return regular(inside)
	}
	end := strings.ToLower(filepath.Ext(path))
	members := map[string]string{
		".shp": ".shp .shx .dbf .prj .cpg", ".tab": ".tab .dat .map .id .ind", ".mif": ".mif .mid", ".gml": ".gml .xsd .gfs",
	}[end]
	if members == "" {
		return []string{path}
	}
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	var names []string
	for _, m := range strings.Fields(members) {
		names = append(names, stem+m, stem+strings.ToUpper(m))
	}
	return regular(names)
}

func regular(names []string) []string {
	var out []string
	for _, n := range names {
		if info, err := os.Stat(n); err == nil && info.Mode().IsRegular() {
			out = append(out, n)
		}
	}
	sort.Strings(out)
	return out
}

// about turns an error of a room below into one about the map.
func (s *PolygonSpec) about(err error) error {
	switch e := err.(type) {
	case *vector.Problem:
		what := e.What
		if e.Layer != "" {
			what = strings.TrimSuffix(fmt.Sprintf("layer %q: %s", e.Layer, e.What), ": ")
		}
		return &Problem{Map: s.Name, File: e.File, What: what, Fix: e.Fix, Err: e.Err}
	case *crs.Refusal:
		return &Problem{Map: s.Name, File: s.File, What: e.What, Fix: e.Fix}
	case *Problem:
		return e
	}
	if s.Name == "" {
		return err
	}
	return fmt.Errorf("map %q: %w", s.Name, err)
}
